// A tent's files as neapd leaves them, without a neapd: journal, state, manifests, spool, settings.
#pragma once

#include <fcntl.h>
#include <sys/file.h>
#include <sys/resource.h>
#include <unistd.h>

#include <csignal>
#include <fstream>
#include <memory>

#include "daemon/core/state_slot.h"
#include "daemon/journal/journal.h"
#include "tests/client/support.h"
#include "tests/places.h"

namespace neap::client::testing {

namespace fs = std::filesystem;

inline std::string slurp(const fs::path& path) {
  std::ifstream in(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(in), {}};
}

// Lines that were wrapped to the page, as one.
inline std::string whole(std::string text) {
  for (std::size_t at = 0; (at = text.find("\n  ", at)) != std::string::npos;)
    text.replace(at, 3, " ");
  return text;
}

// A full card, for as long as it lives: no file of this process may grow beyond so much.
class FullDisk {
 public:
  explicit FullDisk(rlim_t most) {
    std::signal(SIGXFSZ, SIG_IGN);
    ::getrlimit(RLIMIT_FSIZE, &before_);
    const rlimit few{most, before_.rlim_max};
    ::setrlimit(RLIMIT_FSIZE, &few);
  }
  ~FullDisk() { ::setrlimit(RLIMIT_FSIZE, &before_); }
  FullDisk(const FullDisk&) = delete;
  FullDisk& operator=(const FullDisk&) = delete;

 private:
  rlimit before_{};
};

class Backups : public ::testing::Test {
 protected:
  static constexpr std::int64_t kStart = 4294967000;  // ms; no test begins at zero

  Backups() {
    fs::create_directories(state() / "spool");
    fs::create_directories(here("etc"));
    fs::copy_file(places::in_project("config/demo.yaml"), here("etc/tent.yaml"));
    write("etc/other.yaml", "x: 1\n");
    write("lib/outputs.a", "manifest a\n");
    write("lib/outputs.b", "manifest b\n");
    write("lib/spool/one.json", "{}");
    put_state(1, kStart + 50'000);
    writer_ = open_writer();
    put_events(50);
  }
  fs::path here(const std::string& name) const { return directory_.file(name); }
  fs::path state() const { return here("lib"); }
  void write(const std::string& name, const std::string& text) const {
    std::ofstream(here(name), std::ios::binary | std::ios::trunc) << text;
  }
  // Both slots whole.
  void put_state(std::uint64_t counter, std::int64_t tick, const std::string& more = "") const {
    std::string file(kStateFileBytes, '\0');
    const std::string body = "boot.last_tick " + std::to_string(tick) + "\n" + more;
    for (const std::size_t at : {std::size_t{0}, kStateSlotBytes}) {
      const std::string slot = state_slot(counter, body);
      file.replace(at, slot.size(), slot);
    }
    write("lib/state", file);
  }
  std::unique_ptr<journal::Writer> open_writer() const {
    journal::Options options;
    options.path = here("lib/journal.db");
    auto writer = journal::Writer::open(options);
    writer->flush();
    return writer;
  }
  void put_events(int count) {
    for (int i = 0; i < count; ++i) {
      tick_ += 1000;
      journal::EventEntry entry{instant(Millis{tick_}), {}};
      entry.event.kind = EventKind::stage;
      writer_->put(entry);
      writer_->put(journal::ReadingEntry{instant(Millis{tick_}), Point::canopy_temperature,
                                         20 + i * 0.1, Quality::good, Fault::none});
    }
    writer_->flush();
    ASSERT_FALSE(writer_->trouble()) << writer_->trouble_text();
  }
  Said run(std::vector<std::string> words, std::int64_t after_ms = 0) const {
    words.insert(words.end(),
                 {"--state-dir", state().string(), "--journal", here("lib/journal.db").string(),
                  "--settings", here("etc/tent.yaml").string()});
    return neap(words, {}, false, {}, [after_ms] { return kNoonUnixMs + after_ms; });
  }
  // Into here("kept"); the backup's folder.
  fs::path back_up() const {
    const Said said = run({"backup", here("kept").string()});
    EXPECT_EQ(said.code, kExitDone) << said.err;
    return here("kept/neap-20260601T120000Z");
  }
  static std::vector<std::string> names_in(const fs::path& folder) {
    std::vector<std::string> names;
    for (const auto& item : fs::directory_iterator(folder))
      names.push_back(item.path().filename().string());
    std::sort(names.begin(), names.end());
    return names;
  }

  Directory directory_;
  std::int64_t tick_ = kStart;
  std::unique_ptr<journal::Writer> writer_;
};

}  // namespace neap::client::testing
