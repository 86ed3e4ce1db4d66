// A journal as neapd leaves it, two clocks, and hooks that note what they get.
#pragma once

#include <sys/stat.h>

#include <fstream>
#include <memory>

#include "daemon/client/teller.h"
#include "tests/client/told.h"

namespace neap::client::testing {

constexpr std::int64_t kNoon = kNoonUnixMs;  // 14:00 in the demo's tent
constexpr std::int64_t kMinute = 60'000;
constexpr std::int64_t kHour = 60 * kMinute;
constexpr std::int64_t kTickAtNoon = 4'000'000'000;

inline std::string demo_with(const std::string& telling) {
  std::ifstream demo(places::in_project("config/demo.yaml"));
  std::string text{std::istreambuf_iterator<char>(demo), {}};
  return text.replace(text.rfind("end: true"), 0, telling);
}

inline constexpr const char* kTelling = R"(telling:
  daily: "08:00"
  quiet: {from: "22:00", to: "07:00"}
  hooks:
    - {name: mail, command: [/bin/true]}
    - {name: watcher, command: [/bin/true], tells: heartbeat}
)";

class TellerTest : public ::testing::Test {
 protected:
  struct Got {
    std::string hook;
    json told;
  };

  TellerTest() {
    globals_.settings = folder_.file("tent.yaml");
    globals_.journal = folder_.file("journal.db");
    globals_.tell_dir = folder_.path().string();
    settings(kTelling);
    journal::Options options;
    options.path = globals_.journal;
    options.durability = journal::Durability::simulated;
    writer_ = journal::Writer::open(options);
    boot(-24 * kHour, true);
    lives();
  }

  void settings(const std::string& telling) {
    std::ofstream(globals_.settings) << demo_with(telling);
  }
  Instant tick() const { return instant(Millis{kTickAtNoon + now_.steady_ms}); }
  void boot(std::int64_t ago, bool clean) {
    const Instant at = tick() + Millis{ago};
    writer_->put(journal::BootEntry{at, "0.1.0", clean});
    writer_->put(journal::ClockEntry{at, {now_.unix_ms + ago, 7200, TimeQuality::synced}});
  }
  // An entry of now, as neapd writes one each few seconds.
  void lives() {
    writer_->put(journal::ReadingEntry{tick(), Point::leak_floor, 0.0, Quality::good, Fault::none});
    writer_->flush();
  }
  void alarm(Alarm which, AlarmState from, AlarmState to) {
    journal::EventEntry entry{tick(), {}};
    entry.event.kind = EventKind::alarm;
    entry.event.alarm = which;
    entry.event.alarm_from = from;
    entry.event.alarm_to = to;
    writer_->put(entry);
    writer_->flush();
  }
  void raise(Alarm which) { alarm(which, AlarmState::normal, AlarmState::unacknowledged); }
  void end(Alarm which) { alarm(which, AlarmState::acknowledged, AlarmState::normal); }

  // Time as the board knows it; the tent's own tick goes with it.
  void pass(std::int64_t ms) {
    now_.unix_ms += ms;
    now_.steady_ms += ms;
  }
  Teller& teller() {
    if (!teller_)
      teller_ = std::make_unique<Teller>(
          globals_,
          TellWorld{[this] { return now_; },
                    [this](const settings::Hook& hook, const std::string& told) {
                      got_.push_back({hook.name, json::parse(told)});
                      return HookEnd{why_.empty(), why_, {}};
                    },
                    [this]() -> json {
                      if (status_.is_null()) throw Failure(kExitNoDaemon, "none", "");
                      return status_;
                    }},
          log_);
    return *teller_;
  }
  // What the hooks were told in one look, without heartbeats and the line of the day.
  std::vector<std::string> look() {
    got_.clear();
    teller().look();
    std::vector<std::string> found;
    for (const Got& got : got_)
      if (got.told["kind"] != "heartbeat" && got.told["kind"] != "daily")
        found.push_back(got.told["text"]);
    return found;
  }
  // A second look, by which neapd was seen to write.
  void see_it_write() {
    look();
    pass(1000);
    lives();
    look();
  }
  std::vector<json> of_kind(const std::string& kind) const {
    std::vector<json> found;
    for (const Got& got : got_)
      if (got.told["kind"] == kind) found.push_back(got.told);
    return found;
  }

  Directory folder_;
  Globals globals_;
  tell::Now now_{kNoon, 10 * kHour};
  std::unique_ptr<journal::Writer> writer_;
  std::unique_ptr<Teller> teller_;
  std::vector<Got> got_;
  std::string why_;
  json status_;
  std::ostringstream log_;
};

}  // namespace neap::client::testing
