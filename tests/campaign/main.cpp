// campaign: thousands of simulated weeks, each drawn from its seed, judged by oracle.h.
#include <CLI/CLI.hpp>
#include <chrono>
#include <cinttypes>
#include <cstdio>
#include <filesystem>
#include <future>
#include <mutex>
#include <stdexcept>
#include <string>
#include <vector>

#include "tests/campaign/life.h"

namespace neap::campaign {
namespace {

struct Options {
  std::uint64_t first = 1, count = 200;
  int jobs = 2;
  int least_entered = 0;  // a row answered less often than that fails the campaign
  bool trace = false;
  bool calm = false;
};

struct Totals {
  std::mutex mutex;
  Seen seen;
  std::int64_t weeks = 0, floods = 0, scans = 0, crashes = 0, failed = 0;
};

std::string clock_text(double s) {
  std::array<char, 64> text{};
  const auto whole = static_cast<std::int64_t>(s);
  std::snprintf(text.data(), text.size(), "%" PRId64 " d %02d:%02d:%02d", whole / 86400,
                static_cast<int>(whole / 3600 % 24), static_cast<int>(whole / 60 % 60),
                static_cast<int>(whole % 60));
  return text.data();
}

void tell(const World& world, const Result& result) {
  for (const Violation& v : result.violations)
    std::printf("campaign: seed %" PRIu64
                ", at %s, invariant %d: %s; replay: tests/campaign/run --seed %" PRIu64
                " --trace\n",
                world.seed, clock_text(v.at_s).c_str(), v.invariant, v.what.c_str(), world.seed);
  std::fflush(stdout);
}

void live_some(const Options& options, int job, Totals& totals) {
  const auto dir = std::filesystem::temp_directory_path() /
                   ("neap-campaign-" + std::to_string(::getpid()) + "-" + std::to_string(job));
  std::filesystem::create_directories(dir);
  Seen seen;
  for (std::uint64_t i = static_cast<std::uint64_t>(job); i < options.count;
       i += static_cast<std::uint64_t>(options.jobs)) {
    const World world = make_world(options.first + i, options.calm);
    if (options.trace) std::printf("%s\n", world.text.c_str());
    const Result result = live(world, dir, seen, options.trace);
    const std::lock_guard lock(totals.mutex);
    tell(world, result);
    ++totals.weeks;
    totals.floods += result.floods_complete;
    totals.scans += result.scans;
    totals.crashes += result.crashes;
    totals.failed += result.violations.empty() ? 0 : 1;
    if (options.trace) std::printf("trace %016" PRIx64 "\n", result.trace);
  }
  std::filesystem::remove_all(dir);
  const std::lock_guard lock(totals.mutex);
  totals.seen.add(seen);
}

// True when every row was met and answered often enough, and every fault met.
bool print_seen(const Seen& seen, int least) {
  bool enough = true;
  std::printf("\nhazard rows            met  answered\n");
  for (std::size_t i = 0; i < rows().size(); ++i) {
    const Row& row = rows()[i];
    const bool short_of = seen.answered[i] < least;
    enough = enough && !short_of;
    std::printf("  %-5s %6d %6d  %s: %s%s\n", std::string(row.id).c_str(), seen.met[i],
                seen.answered[i], std::string(row.hazard).c_str(),
                std::string(row.reaction).c_str(), short_of ? "   TOO FEW" : "");
  }
  for (std::size_t i = 0; i < drivers::simulated::kTentFaultCount; ++i) {
    if (seen.faults[i] >= least) continue;
    enough = false;
    std::printf("  fault %s was met %d times   TOO FEW\n",
                std::string(drivers::simulated::kTentFaults[i].name).c_str(), seen.faults[i]);
  }
  std::printf("latches set and reset:");
  for (const LatchInfo& row : kLatches) {
    const auto i = static_cast<std::size_t>(row.latch);
    std::printf(" %s %d/%d", std::string(row.name).c_str(), seen.latches[i], seen.resets[i]);
  }
  std::printf("\npower cuts %d, kills %d, clock steps %d\n", seen.power_cuts, seen.kills,
              seen.clock_steps);
  return enough;
}

int campaign(const Options& options) {
  const auto began = std::chrono::steady_clock::now();
  Totals totals;
  std::vector<std::future<void>> jobs;
  for (int job = 0; job < options.jobs; ++job)
    jobs.push_back(std::async(std::launch::async,
                              [&options, job, &totals] { live_some(options, job, totals); }));
  for (std::future<void>& job : jobs) job.get();
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
  const bool enough = print_seen(totals.seen, options.least_entered);
  std::printf("campaign: %" PRId64 " weeks in %.0f s, %" PRId64 " floods, %" PRId64
              " scans, %" PRId64 " crashes; %" PRId64 " weeks with a violation\n",
              totals.weeks, took.count(), totals.floods, totals.scans, totals.crashes,
              totals.failed);
  return totals.failed == 0 && enough ? 0 : 1;
}

}  // namespace
}  // namespace neap::campaign

int main(int argc, char** argv) {
  neap::campaign::Options options;
  CLI::App app{"simulated weeks with everything that can go wrong"};
  app.add_option("--first", options.first, "first seed");
  app.add_option("--weeks", options.count, "how many seeds");
  app.add_option("--jobs", options.jobs, "threads")->check(CLI::Range(1, 64));
  app.add_option("--least", options.least_entered,
                 "how often each hazard row must be met and answered");
  app.add_flag("--calm", options.calm, "weeks in which nothing goes wrong: no alarm may come");
  app.add_flag("--trace", options.trace, "tell what happens");
  const auto* seed = app.add_option_function<std::uint64_t>(
      "--seed",
      [&](std::uint64_t only) {
        options.first = only;
        options.count = 1;
        options.jobs = 1;
      },
      "one seed again");
  CLI11_PARSE(app, argc, argv);
  static_cast<void>(seed);
  try {
    return neap::campaign::campaign(options);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "campaign: %s\n", error.what());
    return 2;
  }
}
