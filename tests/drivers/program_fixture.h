// Runs the Python programs of tests/drivers/programs behind the program driver. Nothing here waits
// for time to pass: a FIFO tells when a program has said something, and when its last process died.
#pragma once

#include <fcntl.h>
#include <gtest/gtest.h>
#include <poll.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <atomic>
#include <memory>
#include <string>

#include "drivers/bus/descriptor.h"
#include "drivers/program/program.h"
#include "tests/drivers/temporary_folder.h"
#include "tests/places.h"

namespace neap::test {

class ProgramFixture : public testing::Test {
 protected:
  static constexpr int kGenerousMs = 60000;

  void SetUp() override {
    if (::access(kPython, X_OK) != 0) GTEST_SKIP() << "python3 is not at " << kPython;
    ASSERT_EQ(::mkfifo((folder_ / "alive").c_str(), 0600), 0);
    open_alive();
    context_.tick_ms = [this] { return tick_ += 1000; };
  }

  drivers::Params params(const std::string& program, const std::string& mode,
                         int answer_within_ms) const {
    drivers::Params given;
    given.set_words("command",
                    {kPython, "-B", places::in_project("tests/drivers/programs/") + program, mode,
                     folder_.path().string()});
    given.set("answer_within_ms", std::to_string(answer_within_ms));
    return given;
  }

  // The program has answered (or chosen not to): what it said is in the pipe.
  void expect_tick() {
    char byte = 0;
    ASSERT_TRUE(wait_for(POLLIN) & POLLIN) << "the program said nothing";
    ASSERT_EQ(::read(alive_.get(), &byte, 1), 1);
  }
  // The program and all that it started are gone.
  void expect_death() {
    std::array<char, 512> rest{};
    while (wait_for(POLLIN | POLLHUP) & POLLIN)
      if (::read(alive_.get(), rest.data(), rest.size()) <= 0) break;
    EXPECT_TRUE(wait_for(POLLHUP) & POLLHUP) << "the program lives on";
    open_alive();  // the hang-up of the old one would hide the next program
  }
  std::size_t starts() const { return folder_.read("starts").size(); }

  static constexpr const char* kPython = "/usr/bin/python3";
  TemporaryFolder folder_;
  drivers::Context context_;

 private:
  void open_alive() {
    alive_ =
        drivers::Descriptor{::open((folder_ / "alive").c_str(), O_RDONLY | O_NONBLOCK | O_CLOEXEC)};
    ASSERT_TRUE(alive_);
  }
  int wait_for(int events) const {
    pollfd wait{alive_.get(), static_cast<short>(events), 0};
    ::poll(&wait, 1, kGenerousMs);
    return wait.revents;
  }

  drivers::Descriptor alive_;
  std::atomic<std::int64_t> tick_{4294967000};
};

}  // namespace neap::test
