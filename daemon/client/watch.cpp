#include "daemon/client/watch.h"

#include <algorithm>

#include "daemon/client/peek.h"
#include "daemon/client/render.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kWideScreen = 110;   // curves stand beside the overview from here on (choice)
constexpr std::size_t kTallScreen = 30;    // likewise
constexpr std::size_t kBesideMost = 72;    // columns of the overview, where curves stand beside it
constexpr std::size_t kBetween = 2;        // columns between the two
constexpr std::size_t kOnlyPanel = 4;      // rows of the overview's one curve, at least
constexpr std::size_t kLowestPanel = 5;    // rows of a curve where there are several
constexpr std::size_t kHighestPanel = 11;  // likewise
constexpr std::size_t kVerdictLines = 3;

using Lines = std::vector<TonedLine>;

std::size_t columns_in(const TonedLine& line) {
  std::size_t sum = 0;
  for (const Toned& each : line) sum += columns(each.text);
  return sum;
}

void append(Lines& lines, Lines more) {
  for (TonedLine& line : more) lines.push_back(std::move(line));
}

TonedLine cut(const TonedLine& line, std::size_t width) {
  if (columns_in(line) <= width) return line;
  TonedLine out;
  std::size_t left = width;
  for (const Toned& each : line) {
    const std::size_t size = columns(each.text);
    out.push_back({each.tone, size > left ? clipped(each.text, left) : each.text});
    if (size >= left) break;
    left -= size;
  }
  return out;
}

Lines beside(const Lines& left, std::size_t width, const Lines& right) {
  Lines lines;
  for (std::size_t i = 0; i < std::max(left.size(), right.size()); ++i) {
    TonedLine line = i < left.size() ? cut(left[i], width) : TonedLine{};
    if (i < right.size() && !right[i].empty()) {
      line.push_back({Tone::plain, std::string(width + kBetween - columns_in(line), ' ')});
      line.insert(line.end(), right[i].begin(), right[i].end());
    }
    lines.push_back(std::move(line));
  }
  return lines;
}

// What is named in the settings may have any character.
std::string in_ascii(std::string_view text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x80)
      out += c;
    else if (byte >= 0xC0)  // the first of a character's bytes
      out += '?';
  }
  return out;
}

bool is_wide(const WatchView& view) {
  return view.columns >= kWideScreen && view.rows >= kTallScreen;
}

std::size_t overview_width(const WatchView& view) {
  return is_wide(view) ? std::min(kBesideMost, view.columns / 2) : view.columns;
}

std::string title_text(const Watched& seen, const Look& look) {
  const std::string time = words::local_time(seen.unix_ms, seen.utc_offset_s);
  std::string rest = hands_text(seen.status);
  if (const std::string quality = text_at(seen.status, "/time_quality");
      !quality.empty() && quality != "synchronised")
    rest += (rest.empty() ? "time " : ", time ") + quality;
  const std::size_t room = look.width - std::min(look.width, columns(time) + 2);
  std::string text = clipped(text_at(seen.status, "/name"), room) + "  " + time;
  if (rest.empty()) return toned(look, Tone::strong, text) + "\n";
  // What does not fit beside the time has a line of its own.
  const bool fits = columns(text) + 2 + columns(rest) <= look.width;
  return toned(look, Tone::strong, text) + (fits ? "  " : "\n") +
         toned(look, Tone::warning, fits ? rest : wrapped(rest, look.width, 2)) + "\n";
}

Verdict verdict_now(const Watched& seen) {
  if (!seen.silence) return verdict_of(seen.status);
  const std::string since =
      " since " + words::local_time(seen.silence->since_unix_ms, seen.utc_offset_s);
  const bool gone = seen.silence->code == kExitNoDaemon;
  return {(gone ? "neapd does not run: no answer" : "neapd gives no answer") + since, Tone::bad};
}

// What stands above every page: the tent, the time, the verdict.
Lines head_of(const Watched& seen, const Look& look) {
  Lines lines = toned_lines(title_text(seen, look));
  const Verdict verdict = verdict_now(seen);
  Lines told = toned_lines(toned(look, verdict.tone, wrapped(verdict.text, look.width, 2)));
  told.resize(std::min(told.size(), kVerdictLines));
  append(lines, std::move(told));
  if (!seen.silence) return lines;
  const std::string last = text_at(seen.status, "/stopped/last");
  append(lines, toned_lines(wrapped(seen.silence->why, look.width, 2) + "\n" +
                            wrapped(last.empty() ? "The journal knows nothing."
                                                 : "What the journal knew last, at " + last + ":",
                                    look.width, 2)));
  return lines;
}

std::string trouble_text(const Watched& seen, const Look& look) {
  const std::string& trouble = seen.record.trouble;
  return trouble.empty()
             ? trouble
             : toned(look, Tone::warning, wrapped("Journal: " + trouble, look.width, 2)) + "\n";
}

std::size_t heading_rows(const ChartPage& page) { return page.width < kPageWidth ? 2 : 1; }

// Rows of a curve, such that whole ones fill `room`.
std::size_t panel_rows(const WatchRecord& record, std::size_t room) {
  const std::size_t heading = heading_rows(record.chart_page);
  const std::size_t count =
      std::clamp<std::size_t>(room / (kLowestPanel + heading), 1, record.chart->curves.size());
  const std::size_t each = room / count;
  return std::clamp(each - std::min(each, heading), kLowestPanel, kHighestPanel);
}

Lines panel(const WatchRecord& record, std::size_t curve, std::size_t rows, const Look& look) {
  return toned_lines(panel_text(record.chart->curves[curve], record.chart_page, rows, look));
}

Lines axis(const WatchRecord& record, const Look& look) {
  return toned_lines(axis_text(*record.chart, record.chart_page, look));
}

// The first curve, where `room` is enough.
Lines one_curve(const WatchRecord& record, std::size_t room, const Look& look) {
  if (!record.chart) return {};
  const Lines below = axis(record, look);
  const std::size_t taken = below.size() + heading_rows(record.chart_page);
  if (room < taken + kOnlyPanel) return {};
  Lines lines = panel(record, 0, std::min(room - taken, kHighestPanel), look);
  append(lines, below);
  return lines;
}

// As many curves as `room` holds, over their times.
Lines many_curves(const WatchRecord& record, std::size_t room, const Look& look) {
  if (!record.chart) return {};
  const Lines below = axis(record, look);
  const std::size_t rows = panel_rows(record, room - std::min(room, below.size()));
  Lines lines;
  for (std::size_t i = 0; i < record.chart->curves.size(); ++i) {
    Lines next = panel(record, i, rows, look);
    if (i > 0 && lines.size() + next.size() + below.size() > room) break;
    append(lines, std::move(next));
  }
  append(lines, below);
  return lines;
}

struct Page {
  Lines lines;   // that scroll
  Lines pinned;  // below them
};

Page page_now(const Watched& seen, const WatchView& view, const Look& look, std::size_t room) {
  Look narrow = look;
  narrow.width = overview_width(view);
  Lines lines = toned_lines(trouble_text(seen, narrow) + overview_text(seen, narrow, view.utf8));
  Lines rest =
      toned_lines(wanted_text(seen.status, narrow) + water_limits_text(seen.status, narrow) +
                  readings_text(seen.status, narrow));
  if (is_wide(view)) {
    append(lines, std::move(rest));
    return {beside(lines, narrow.width, many_curves(seen.record, room, look)), {}};
  }
  append(lines, one_curve(seen.record, room - std::min(room, lines.size()), look));
  append(lines, std::move(rest));
  return {lines, {}};
}

Page page_curves(const Watched& seen, const Look& look, std::size_t room) {
  Lines lines = toned_lines(trouble_text(seen, look));
  if (!seen.record.chart) {
    append(lines, toned_lines("No curves yet."));
    return {lines, {}};
  }
  const Lines below = axis(seen.record, look);
  const std::size_t taken = std::min(room, lines.size() + below.size());
  const std::size_t rows = panel_rows(seen.record, room - taken);
  for (std::size_t i = 0; i < seen.record.chart->curves.size(); ++i)
    append(lines, panel(seen.record, i, rows, look));
  return {lines, below};
}

Page page_alarms(const Watched& seen, const Look& look) {
  return {toned_lines(standing_text(seen.status, look) + render_alarms(seen.status, look) +
                      to_do_text(seen.status, look)),
          {}};
}

Page page_events(const Watched& seen, const Look& look) {
  Table table({Table::Side::left, Table::Side::left});
  for (const WatchRecord::Happened& each : seen.record.events) table.add({each.when, each.text});
  return {toned_lines(trouble_text(seen, look) +
                      (table.empty() ? "No events yet.\n" : table.text(look, look.width))),
          {}};
}

Page page_of(const Watched& seen, const WatchView& view, const Look& look, std::size_t room) {
  switch (view.page) {
    case WatchPage::now:
      return page_now(seen, view, look, room);
    case WatchPage::curves:
      return page_curves(seen, look, room);
    case WatchPage::alarms:
      return page_alarms(seen, look);
    case WatchPage::events:
      return page_events(seen, look);
  }
  return {};
}

// The pages, the keys, and how to leave.
TonedLine footer(const WatchView& view, bool scrolls, const Look& look) {
  std::string text;
  for (std::size_t i = 0; i < kWatchPages.size(); ++i) {
    const std::string name = std::to_string(i + 1) + " " + std::string(kWatchPages[i]);
    const bool here = i == static_cast<std::size_t>(view.page);
    text += (text.empty() ? "" : " ") + (here ? toned(look, Tone::strong, "[" + name + "]") : name);
  }
  TonedLine line = toned_lines(text).front();
  std::string keys = "  Tab next";
  const std::string quit = "q quit";
  if (chart_page_of(view)) keys += "  s " + std::to_string(kWatchSpans[view.span].count()) + " h";
  if (scrolls) keys += "  arrows more";
  if (view.columns >= kPageWidth) line.push_back({Tone::plain, keys});
  line.push_back({Tone::plain, (view.columns >= kPageWidth ? "  " : " ") + quit});
  return line;
}

Screen fitted(Screen screen, const WatchView& view) {
  screen.lines.resize(std::min(screen.lines.size(), view.rows));
  for (TonedLine& line : screen.lines) {
    line = cut(line, view.columns);
    if (!view.utf8)
      for (Toned& each : line) each.text = in_ascii(each.text);
  }
  return screen;
}

Screen too_small(const Watched& seen, const WatchView& view) {
  const Look look{true, {}, std::max<std::size_t>(view.columns, 1)};
  const Verdict verdict = verdict_now(seen);
  const std::string text =
      toned(look, verdict.tone, wrapped(verdict.text, look.width)) + "\n" +
      wrapped("This screen is " + std::to_string(view.columns) + "x" + std::to_string(view.rows) +
                  ", neap watch wants " + std::to_string(kPhoneWidth) + "x" +
                  std::to_string(kPhoneLines) + "; q quits",
              look.width);
  return fitted({toned_lines(text), 0}, view);
}

}  // namespace

std::optional<ChartPage> chart_page_of(const WatchView& view) {
  if (view.columns < kPhoneWidth || view.rows < kPhoneLines) return std::nullopt;
  if (view.page == WatchPage::curves) return ChartPage{view.columns, view.utf8};
  if (view.page == WatchPage::now)
    return ChartPage{is_wide(view) ? view.columns - overview_width(view) - kBetween : view.columns,
                     view.utf8};
  return std::nullopt;
}

Screen compose(const Watched& seen, const WatchView& view) {
  if (view.columns < kPhoneWidth || view.rows < kPhoneLines) return too_small(seen, view);
  const Look look{true, {text_at(seen.status, "/display") != "us"}, view.columns};
  Screen screen{head_of(seen, look), 0};
  std::size_t room = view.rows - 1 - std::min(view.rows - 1, screen.lines.size());
  const Page page = page_of(seen, view, look, room);
  room -= std::min(room, page.pinned.size());
  screen.furthest = page.lines.size() - std::min(page.lines.size(), room);
  const std::size_t from = std::min(view.scroll, screen.furthest);
  const std::size_t end = std::min(page.lines.size(), from + room);
  screen.lines.insert(screen.lines.end(), page.lines.begin() + static_cast<std::ptrdiff_t>(from),
                      page.lines.begin() + static_cast<std::ptrdiff_t>(end));
  // A narrow footer has no room for it.
  if (from < screen.furthest && view.columns < kPageWidth)
    screen.lines.back() = {
        {Tone::quiet, std::to_string(screen.furthest - from + 1) + " more lines: arrow down"}};
  append(screen.lines, page.pinned);
  screen.lines.resize(view.rows - 1);
  screen.lines.push_back(footer(view, screen.furthest > 0, look));
  return fitted(std::move(screen), view);
}

}  // namespace neap::client
