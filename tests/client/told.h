// A tent's folder with a journal and a spool, for verbs that a person tells something.
#pragma once

#include <filesystem>
#include <fstream>
#include <functional>
#include <string>
#include <vector>

#include "daemon/journal/journal.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client::testing {

constexpr std::int64_t kDayMs = 86'400'000;
constexpr std::int64_t kTick = 4294967000;  // at noon of 2026-06-01

class ToldTent {
 public:
  ToldTent() { std::filesystem::create_directory(folder_.file("spool")); }

  Instant at(std::int64_t unix_ms) const { return instant(Millis{kTick + unix_ms - kNoonUnixMs}); }
  // The journal as a daemon leaves it, with a clock and the demo's settings.
  void journal(const std::function<void(journal::Writer&)>& put) {
    journal::Options options;
    options.path = folder_.file("journal.db");
    options.durability = journal::Durability::simulated;
    const auto writer = journal::Writer::open(options);
    const Instant first = at(kNoonUnixMs - 200 * kDayMs);
    writer->put(journal::BootEntry{first, "0.1.0", true});
    writer->put(
        journal::ClockEntry{first, {kNoonUnixMs - 200 * kDayMs, 7200, TimeQuality::synced}});
    std::ifstream demo(places::in_project("config/demo.yaml"));
    writer->put(journal::SettingsEntry{
        first, 1, std::string(std::istreambuf_iterator<char>(demo), {}), true, ""});
    put(*writer);
    writer->flush();
  }
  std::string journal_path() const { return folder_.file("journal.db"); }
  // One run, without a daemon unless `socket` is one's.
  Said run(std::vector<std::string> words, const std::string& typed = {},
           const std::string& socket = "/nowhere/s") const {
    words.insert(words.end(),
                 {"--socket", socket, "--journal", folder_.file("journal.db"), "--state-dir",
                  folder_.path().string(), "--settings", places::in_project("config/demo.yaml")});
    return neap(words, {{"TZ", "UTC"}}, false, typed);
  }
  std::size_t spooled() const {
    std::size_t count = 0;
    for (const auto& item : std::filesystem::directory_iterator(folder_.file("spool")))
      count += item.path().extension() == ".json";
    return count;
  }

 private:
  Directory folder_;
};

}  // namespace neap::client::testing
