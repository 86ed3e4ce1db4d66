// What `neap watch` shows, and how a screen is made of it. Composing is pure: the terminal is
// terminal.h, what is asked and read is watch_verb.cpp.
#pragma once

#include <array>
#include <cstdint>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "daemon/client/chart.h"
#include "daemon/client/failure.h"
#include "daemon/client/look.h"
#include "daemon/core/programme.h"

namespace neap::client {

enum class WatchPage : std::uint8_t { now, curves, alarms, events };
inline constexpr std::array<std::string_view, 4> kWatchPages{"now", "curves", "alarms", "events"};

// How far back curves go.
inline constexpr std::array kWatchSpans{hours{6}, hours{24}, hours{72}, hours{2}};

struct WatchView {
  std::size_t columns = kPageWidth;
  std::size_t rows = 24;
  bool utf8 = true;
  WatchPage page = WatchPage::now;
  std::size_t scroll = 0;  // lines of the page above the screen
  std::size_t span = 0;    // of kWatchSpans
};

// Why there is no answer.
struct Silence {
  ExitCode code = kExitNoDaemon;
  std::string why;
  std::int64_t since_unix_ms = 0;
};

// What is read of the journal, at a slower pace.
struct WatchRecord {
  struct Coming {  // lights and floods, in their order
    CivilTime at;
    std::string text;
  };
  struct Happened {
    std::string when;
    std::string text;
  };
  std::optional<Chart> chart;
  ChartPage chart_page;  // that the chart was gathered for
  std::vector<Coming> coming;
  std::vector<Happened> events;  // newest first
  std::string trouble;           // why something of it is missing
};

struct Watched {
  nlohmann::json status;  // the daemon's; while it is silent what the journal knew last
  std::optional<Silence> silence;
  std::int64_t unix_ms = 0;       // of this machine's clock
  std::int32_t utc_offset_s = 0;  // of the tent
  WatchRecord record;
};

struct Screen {
  std::vector<TonedLine> lines;  // no more than rows, none wider than the columns
  std::size_t furthest = 0;      // that `scroll` can be
};
Screen compose(const Watched& seen, const WatchView& view);

// What the chart on the page has room for; none where it shows no chart.
std::optional<ChartPage> chart_page_of(const WatchView& view);

// The lines of the page `now`, before what scrolls further down; its parts are watch_now.cpp.
std::string overview_text(const Watched& seen, const Look& look, bool utf8);

}  // namespace neap::client
