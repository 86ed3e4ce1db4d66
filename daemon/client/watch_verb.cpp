// `neap watch`: asks the daemon, reads the journal, paints, listens to keys.
#include <algorithm>
#include <chrono>
#include <utility>

#include "daemon/client/ahead.h"
#include "daemon/client/care.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/last_known.h"
#include "daemon/client/peek.h"
#include "daemon/client/records_json.h"
#include "daemon/client/socket.h"
#include "daemon/client/terminal.h"
#include "daemon/client/verbs.h"
#include "daemon/client/watch.h"
#include "daemon/client/zone.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Steady = std::chrono::steady_clock;

constexpr Millis kAskEvery = seconds{2};
constexpr Millis kAskAgain = seconds{3};     // a daemon that was silent
constexpr Millis kAnswerSoon = seconds{1};   // no key is heard meanwhile
constexpr Millis kReadEvery = minutes{1};    // the journal gets readings at that pace
constexpr Millis kReadSoon = seconds{5};     // of events, and where it had no curves yet
constexpr Millis kCountEvery = minutes{60};  // care: counts in days
constexpr int kReadShare = 100;              // reading costs at most this part of the time
constexpr int kEventsRead = 100;

class Watch {
 public:
  explicit Watch(Session& session) : session_(session) { view_.utf8 = shows_utf8(session.around); }

  void run() {
    const Interrupt interrupt;
    ask();
    Terminal terminal(view_.utf8, session_.look.color);
    while (!done_ && !Interrupt::came()) {
      const auto [columns, rows] = terminal.size();
      view_.columns = columns;
      view_.rows = rows;
      if (Steady::now() >= ask_at_) ask();
      seen_.unix_ms = session_.around.now_unix_ms();
      const Screen screen = compose(seen_, view_);
      view_.scroll = std::min(view_.scroll, screen.furthest);
      terminal.paint(screen);
      if (reading_is_due()) {  // after the screen stands: over a long grow it takes a while
        read();
        continue;
      }
      if (const auto pressed = terminal.key(until_asked())) act(*pressed);
    }
  }

 private:
  Millis until_asked() const {
    const auto left = std::chrono::duration_cast<Millis>(ask_at_ - Steady::now());
    return std::clamp(left, Millis{0}, kAskAgain) + Millis{1};
  }

  void ask() {
    try {
      seen_.status = ask_daemon(session_.globals.socket, "status", json::object(), kAnswerSoon);
      seen_.silence.reset();
      if (const auto offset = number_at(seen_.status, "/utc_offset_s"))
        seen_.utc_offset_s = static_cast<std::int32_t>(*offset);
      seen_.status["care"] = care_;
      ask_at_ = Steady::now() + kAskEvery;
    } catch (const Failure& failure) {
      if (failure.code() == kExitUsage) throw;
      if (!seen_.silence) {
        seen_.silence = Silence{failure.code(), {}, session_.around.now_unix_ms()};
        read_at_.reset();  // at once: what the journal knew last is shown from now on
      }
      seen_.silence->code = failure.code();
      seen_.silence->why = failure.what();
      ask_at_ = Steady::now() + kAskAgain;
    }
  }

  bool reading_is_due() const {
    const bool soon = view_.page == WatchPage::events || !seen_.record.chart;
    const auto pace = std::max<Steady::duration>(soon ? kReadSoon : kReadEvery, took_ * kReadShare);
    const auto page = chart_page_of(view_);
    return !read_at_ || Steady::now() >= *read_at_ + pace ||
           (page && (page->width != seen_.record.chart_page.width || view_.span != span_read_));
  }

  void read() {
    const auto began = Steady::now();
    std::string error;
    const auto reader = journal::Reader::open(session_.globals.journal, error);
    const ChartPage page = chart_page_of(view_).value_or(seen_.record.chart_page);
    seen_.record = {};
    seen_.record.trouble = words::printable(error);
    seen_.record.chart_page = page;
    span_read_ = view_.span;
    if (seen_.silence) seen_.status = last_known_status(reader.get(), seen_.silence->why);
    if (reader) {
      try {
        read_record(*reader);
      } catch (const Failure& failure) {
        seen_.record.trouble = failure.what();
      }
      if (seen_.record.trouble.empty()) seen_.record.trouble = reader->trouble();
    }
    count_care();
    read_at_ = Steady::now();
    took_ = *read_at_ - began;
  }

  void read_record(journal::Reader& reader) {
    const std::int64_t to = last_tick(reader);
    const journal::Stamp stamp = reader.stamp(to);
    if (seen_.silence) seen_.utc_offset_s = stamp.utc_offset_s;
    const words::Style style{text_at(seen_.status, "/display") != "us"};
    std::vector<journal::EventRow> rows = reader.events({}, {}, kEventsRead);
    std::reverse(rows.begin(), rows.end());
    for (const journal::EventRow& row : rows) {
      const std::string when = stamp_text(row.at);
      constexpr std::size_t kYear = 5;  // "2026-"
      seen_.record.events.push_back(
          {row.at.unix_ms ? when.substr(kYear) : when,
           words::printable(words::sentence(row.event, style, row.name))});
    }
    const Plan plan = plan_in_force(session_, reader);
    read_coming(reader, plan);
    const std::int64_t first = reader.first_tick().value_or(to);
    ChartAsk ask;
    ask.to = to;
    ask.from = std::max(first, to - Millis{kWatchSpans[view_.span]}.count());
    if (ask.from >= ask.to) return;
    ask.columns = columns_of(seen_.record.chart_page);
    ask.most_marks = marks_of(seen_.record.chart_page);
    const bool leaf = plan.climate.band_of == BandOf::leaf;
    for (const Point point : {leaf ? Point::leaf_vpd : Point::canopy_vpd, Point::canopy_temperature,
                              Point::canopy_humidity, Point::reservoir_level,
                              Point::solution_temperature, Point::solution_ph, Point::solution_ec})
      if (plan.points[source_of(point)]) ask.points.push_back(point);
    if (!ask.points.empty()) seen_.record.chart = gather_chart(reader, plan, ask);
  }

  void read_coming(journal::Reader& reader, const Plan& plan) {
    constexpr int kDays = 3;
    const CivilTime now = civil_at(plan.time_zone, session_.around.now_unix_ms());
    const Ahead ahead =
        look_ahead(plan, stage_in_journal(reader, plan.programme, now.date), now, kDays);
    auto& coming = seen_.record.coming;
    for (const AheadDay& day : ahead.days) {
      if (day.lights_on_s) coming.push_back({{day.date, *day.lights_on_s}, "lights on"});
      if (day.lights_off_s) coming.push_back({{day.date, *day.lights_off_s}, "lights off"});
      for (const FloodSlot& slot : day.floods)
        coming.push_back({slot.start, "flood " + std::to_string(slot.id.number)});
    }
    std::stable_sort(coming.begin(), coming.end(),
                     [](const auto& a, const auto& b) { return a.at < b.at; });
  }

  void count_care() {
    if (!care_at_ || Steady::now() >= *care_at_ + kCountEvery) {
      care_ = care_due(session_);
      care_at_ = Steady::now();
    }
    seen_.status["care"] = care_;
  }

  void act(const Pressed& pressed) {
    const std::size_t page = view_.rows - std::min<std::size_t>(view_.rows, 6);
    switch (pressed.key) {
      case KeyKind::up:
        view_.scroll -= std::min<std::size_t>(view_.scroll, 1);
        return;
      case KeyKind::down:
        ++view_.scroll;
        return;
      case KeyKind::page_up:
        view_.scroll -= std::min(view_.scroll, page);
        return;
      case KeyKind::page_down:
        view_.scroll += page;
        return;
      case KeyKind::home:
        view_.scroll = 0;
        return;
      case KeyKind::next:
        turn_to((static_cast<std::size_t>(view_.page) + 1) % kWatchPages.size());
        return;
      case KeyKind::previous:
        turn_to((static_cast<std::size_t>(view_.page) + kWatchPages.size() - 1) %
                kWatchPages.size());
        return;
      case KeyKind::ended:
        done_ = true;
        return;
      case KeyKind::other:
        break;
    }
    if (pressed.letter == 'q' || pressed.letter == 'Q') done_ = true;
    if (pressed.letter == 's') view_.span = (view_.span + 1) % kWatchSpans.size();
    const std::size_t number = static_cast<std::size_t>(pressed.letter - '1');
    if (number < kWatchPages.size()) turn_to(number);
  }

  void turn_to(std::size_t page) {
    view_.page = static_cast<WatchPage>(page);
    view_.scroll = 0;
  }

  Session& session_;
  Watched seen_;
  WatchView view_;
  std::size_t span_read_ = 0;
  std::vector<std::string> care_;
  Steady::time_point ask_at_;
  std::optional<Steady::time_point> read_at_, care_at_;  // last; none: not yet
  Steady::duration took_{0};
  bool done_ = false;
};

}  // namespace

int do_watch(Session& session) {
  if (session.globals.json)
    throw Failure(kExitUsage, "--json was given, and neap watch paints a screen",
                  "`neap status --json` says the same once");
  if (!session.around.in_is_terminal || !session.around.out_is_terminal)
    throw Failure(kExitUsage, "neap watch paints a screen, and this is no terminal",
                  "`neap status` prints the same once");
  Watch(session).run();
  return kExitDone;
}

}  // namespace neap::client
