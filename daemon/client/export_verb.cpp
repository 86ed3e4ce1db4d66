// neap export: a span of the journal as a folder of CSV files with a data dictionary, for pandas, R
// and spreadsheets. Whole or not at all: it is written beside its place and renamed.
#include <filesystem>
#include <fstream>

#include "daemon/client/failure.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/new_folder.h"
#include "daemon/client/record_columns.h"
#include "daemon/client/record_form.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/core/points.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

// The readings of so long are asked for at once: within the reader's time on a slow card (choice).
constexpr std::int64_t kStepMs = 6 * 3'600'000;

class Export {
 public:
  Export(journal::Reader& reader, const NewFolder& folder) : reader_(reader), folder_(folder) {}

  template <class Row>
  void file(std::string_view name, std::span<const Column<Row>> columns,
            const std::vector<Row>& rows) {
    check();
    auto out = begun(name, columns);
    for (const Row& row : rows) out << csv_of(columns, row);
    ended(out, name, static_cast<std::int64_t>(rows.size()));
  }

  void readings(std::int64_t from, std::int64_t to) {
    constexpr std::string_view kName = "readings.csv";
    const auto columns = reading_columns();
    auto out = begun(kName, columns);
    std::int64_t count = 0;
    for (std::int64_t begin = from; begin <= to; begin += kStepMs) {
      reader_.each_reading({begin, std::min(begin + kStepMs - 1, to)},
                           [&](const journal::ReadingRow& row) {
                             out << csv_of(columns, row);
                             ++count;
                           });
      check();
      if (!out) folder_.fail("the disk takes no more");
    }
    ended(out, kName, count);
  }

  // What every column and every point is.
  void dictionary() {
    std::ofstream out(folder_.path() / "dictionary.csv", std::ios::binary);
    out << csv_row({"file", "column", "type", "unit", "range", "meaning"}) << dictionary_;
    ended(out, "dictionary.csv", 0);
  }

  void points() {
    std::ofstream out(folder_.path() / "points.csv", std::ios::binary);
    out << csv_row({"point", "title", "unit", "kind", "lowest", "highest"});
    for (const PointInfo& row : kPoints) {
      const bool contact = row.kind == PointKind::contact;
      out << csv_row({std::string(row.name), std::string(row.title), std::string(row.unit),
                      contact                          ? "contact: 0 clear, 1 set, 2 damp, 3 faulty"
                      : row.kind == PointKind::derived ? "worked out"
                                                       : "measured",
                      number_cell(contact ? 0 : row.lowest),
                      number_cell(contact ? 3 : row.highest)});
    }
    explain("points.csv", {"point", "text", "", "", "its name in readings.csv"});
    explain("points.csv", {"title", "text", "", "", "what it is"});
    explain("points.csv", {"unit", "text", "", "", "of the values in readings.csv"});
    explain("points.csv",
            {"kind", "text", "", "measured, contact or worked out", "whence it comes"});
    explain("points.csv", {"lowest", "number", "", "", "that it can physically be"});
    explain("points.csv", {"highest", "number", "", "", "that it can physically be"});
    ended(out, "points.csv", 0);
  }

  json counts() const { return counts_; }

 private:
  template <class Row>
  std::ofstream begun(std::string_view name, std::span<const Column<Row>> columns) {
    for (const Column<Row>& column : columns) explain(name, column.info);
    std::ofstream out(folder_.path() / name, std::ios::binary);
    out << csv_head(columns);
    return out;
  }
  void explain(std::string_view file, const ColumnInfo& info) {
    dictionary_ +=
        csv_row({std::string(file), heading_of(info), std::string(info.type),
                 std::string(info.unit), std::string(info.range), std::string(info.meaning)});
  }
  void ended(std::ofstream& out, std::string_view name, std::int64_t rows) {
    out.close();
    if (!out) folder_.fail(std::string(name) + ": the disk takes no more");
    check();
    if (rows > 0) counts_[std::string(name)] = rows;
  }
  void check() const {
    if (Interrupt::came())
      throw Failure(kExitFailed, "interrupted; nothing was written", "ask for a shorter time");
    if (!reader_.trouble().empty())
      throw Failure(kExitNoJournal,
                    "the journal could not be read whole: " + words::printable(reader_.trouble()),
                    "ask for a shorter time with --since and --until");
  }

  journal::Reader& reader_;
  const NewFolder& folder_;
  std::string dictionary_;
  json counts_ = json::object();
};

fs::path wanted_folder(const Session& session) {
  const std::vector<std::string>& words = session.args.words;
  if (words.size() != 1)
    throw Failure(kExitUsage, "more than one FOLDER", "write: neap export FOLDER --since 30d");
  fs::path path = fs::path(words.front()).lexically_normal();
  if (!path.has_filename()) path = path.parent_path();
  if (path.empty() || path.filename() == "." || path.filename() == "..")
    throw Failure(kExitUsage,
                  "FOLDER is \"" + words::printable(words.front()) + "\", which is there",
                  "name a folder that is not there yet");
  std::error_code ignored;
  if (fs::symlink_status(path, ignored).type() != fs::file_type::not_found)
    throw Failure(kExitRefused, path.string() + " exists, and nothing is written over",
                  "name a folder that is not there yet");
  return path;
}

// Diary entries of the span: the reader knows them all.
std::vector<journal::DiaryRow> diary_of(journal::Reader& reader, const Asked& asked) {
  std::vector<journal::DiaryRow> rows = reader.diary();
  std::erase_if(rows, [&](const journal::DiaryRow& row) {
    return row.happened.tick < asked.from || row.happened.tick > asked.to;
  });
  return rows;
}

}  // namespace

int do_export(Session& session) {
  const fs::path path = wanted_folder(session);
  const auto reader = open_journal(session.globals.journal);
  const Asked asked = asked_within(*reader, span_of(session, *reader, ""));
  const journal::Span span{asked.from, asked.to};
  const Interrupt interrupt;
  NewFolder folder(path);
  Export out(*reader, folder);
  out.readings(asked.from, asked.to);
  const auto events = reader->events(span, {}, kMostRecords);
  if (events.size() >= static_cast<std::size_t>(kMostRecords))
    throw Failure(kExitRefused, "more than " + std::to_string(kMostRecords) + " events",
                  "export a shorter time: --since and --until");
  out.file("events.csv", event_columns(), events);
  out.file("floods.csv", flood_columns(), reader->cycles(span));
  out.file("alarms.csv", alarm_columns(), reader->alarms(span));
  out.file("days.csv", day_columns(), reader->days(span));
  out.file("measurements.csv", measurement_columns(), reader->measurements(span));
  out.file("diary.csv", diary_columns(), diary_of(*reader, asked));
  out.points();
  out.dictionary();
  folder.keep();
  const json rows = out.counts();
  std::string text = path.string() + ": " + stamp_text(reader->stamp(asked.from)) + " to " +
                     stamp_text(reader->stamp(asked.to));
  for (const auto& [name, count] : rows.items())
    text += ", " + std::to_string(count.get<std::int64_t>()) + " " + name.substr(0, name.find('.'));
  session.show({{"folder", path.string()},
                {"from", stamp_json(reader->stamp(asked.from))},
                {"to", stamp_json(reader->stamp(asked.to))},
                {"rows", rows}},
               wrapped(text + ". dictionary.csv says what every column is.", kPageWidth, 2) + "\n");
  return kExitDone;
}

}  // namespace neap::client
