// `neap calibrate`: what a probe shows in standards, told to the daemon; alone, what is in force
// and what came before.
#include <charconv>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr double kTellThird = 0.05;  // pH; a vendor's note, see daemon/solution/ph.h

const ProbeInfo& probe_named(const std::string& word) {
  std::vector<std::string_view> names;
  for (const ProbeInfo& row : kProbes) {
    if (row.name == word) return row;
    names.push_back(row.name);
  }
  throw Failure(kExitUsage,
                "PROBE is \"" + words::printable(word) + "\", and there is none of that name",
                suggestion(word, names));
}

// STANDARD=SHOWN words and temperature=, as the verb takes them.
json shown_of(const std::vector<std::string>& words, json& args) {
  json list = json::array();
  for (std::size_t i = 1; i < words.size(); ++i) {
    const std::string& word = words[i];
    const std::size_t equals = word.find('=');
    if (equals == std::string::npos)
      throw Failure(kExitUsage, "\"" + words::printable(word) + "\" is no STANDARD=SHOWN",
                    "write what the bottle says and what the probe shows, such as 7=6.91");
    const std::string name = word.substr(0, equals);
    const std::string value = word.substr(equals + 1);
    if (name == "temperature" || name == "water") {
      args["temperature_c"] = parse_number("temperature", value, 0, 50);
      continue;
    }
    list.push_back({{"standard", parse_number("the standard", name, 0, 200000)},
                    {"value", parse_number("what the probe shows", value, -10, 100000)}});
  }
  return list;
}

std::string result_text(const ProbeInfo& probe, const json& result, bool warm_said) {
  std::string text;
  if (probe.probe == SolutionProbe::ph) {
    text = "The pH probe is calibrated: slope " +
           words::decimals(result.value("slope_pct", 0.0), 1) + " % of the ideal one, " +
           words::decimals(result.value("offset_mv", 0.0), 1) + " mV at pH 7.\n";
    if (const auto third = result.find("third_off"); third != result.end() && third->is_number()) {
      const double off = third->get<double>();
      text += "  The third buffer reads " + words::decimals(off, 2) + " pH off" +
              (off > kTellThird || off < -kTellThird
                   ? ": over 0.05, so one buffer may be old or the probe is ageing.\n"
                   : ", as it should.\n");
    }
    if (result.value("tired", false))
      text += "  It is near the end of its life: have a new one at hand.\n";
  } else {
    text = "The EC probe is calibrated: cell factor " +
           words::decimals(result.value("gain", 0.0), 3) + ", " +
           words::decimals(result.value("zero_ms_per_cm", 0.0), 3) + " mS/cm when dry.\n";
  }
  if (!warm_said) text += "  The standards were taken to be at 25 C; say temperature= if not.\n";
  return text;
}

std::string in_force_text(const json& one) {
  const std::string name = one.value("probe", "") == "ph" ? "pH" : "EC";
  if (!one.value("fitted", false)) return name + " probe: not fitted.\n";
  std::string text = name + " probe: ";
  const json made = one.value("in_force", json());
  if (!made.is_object()) {
    text += one.value("void", false)
                ? "its calibration was of another probe or wiring, and is not in force.\n"
                : "never calibrated.\n";
  } else {
    const double slope = made.value("slope", 1.0);
    text += one.value("probe", "") == "ph"
                ? "slope " + words::decimals(slope * 100, 1) +
                      " % of the ideal one, pH 7 shown as " +
                      words::decimals(made.value("zero", 0.0), 2) + ".\n"
                : "cell factor " + words::decimals(1 / slope, 3) + ", " +
                      words::decimals(made.value("zero", 0.0), 3) + " mS/cm when dry.\n";
  }
  if (const json shown = one.value("shown", json()); shown.is_number())
    text += "  It shows " + words::decimals(shown.get<double>(), 2) + " uncorrected now.\n";
  return text;
}

// What came before, from the journal; an empty text where there is none to read.
std::string history_text(const Session& session, json& out) {
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader) return {};
  Table table({Table::Side::left, Table::Side::left, Table::Side::left, Table::Side::right});
  bool any = false;
  for (const ProbeInfo& row : kProbes)
    for (const journal::CalibrationRow& made : reader->calibrations(row.point)) {
      any = true;
      out.push_back({{"at", stamp_json(made.at)},
                     {"probe", row.name},
                     {"readings", made.readings},
                     {"temperature_c", made.temperature_c},
                     {"zero", made.zero},
                     {"slope", made.slope}});
      table.add({minute_text(made.at), std::string(row.name), words::printable(made.readings),
                 row.probe == SolutionProbe::ph ? words::decimals(made.slope * 100, 1) + " %"
                                                : words::decimals(1 / made.slope, 3)});
    }
  return any ? "\n" + table.text(session.look, kPageWidth) : std::string();
}

int show_calibrations(const Session& session) {
  json result = json::object();
  std::string text;
  try {
    result = session.ask("calibrations", json::object());
    for (const json& one : result.value("calibrations", json::array())) text += in_force_text(one);
  } catch (const Failure& failure) {
    if (failure.code() != kExitNoDaemon) throw;
    text = "No daemon runs: what is in force is not known; this is what was done.\n";
  }
  json history = json::array();
  text += history_text(session, history);
  result["history"] = history;
  session.show(result, text);
  return kExitDone;
}

}  // namespace

int do_calibrate(Session& session) {
  const std::vector<std::string>& words = session.args.words;
  if (words.empty()) return show_calibrations(session);
  const ProbeInfo& probe = probe_named(words.front());
  json args = {{"probe", probe.name}};
  args["shown"] = shown_of(words, args);
  if (args["shown"].empty())
    throw Failure(kExitUsage, "what the probe shows in which standard is not said",
                  probe.probe == SolutionProbe::ph
                      ? "write for instance neap calibrate ph 7=6.91 4=4.05 temperature=21"
                      : "write for instance neap calibrate ec 1413=1.38 temperature=21");
  const json result = session.ask("calibrate", args);
  session.show(result, result_text(probe, result, args.contains("temperature_c")));
  return kExitDone;
}

}  // namespace neap::client
