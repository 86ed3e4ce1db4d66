// settings_mutants: ruins the shipped settings in a hundred thousand ways. Each mutant must be
// refused with words or be within every ceiling of tests/settings/ceilings.h, in bounded time and
// memory. Children do the work, so that whatever ends one of them is told with its mutant.
#include <sys/mman.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <cinttypes>
#include <cstdio>
#include <new>
#include <string>
#include <vector>

#include "tests/settings/ceilings.h"
#include "tests/settings/files.h"
#include "tests/settings/mutants/mutate.h"

namespace neap::settings {
namespace {

// What is shipped, and settings at their very ceilings, which one step breaks.
constexpr std::array<std::string_view, 5> kFiles{"config/demo.yaml", "config/july.yaml",
                                                 "config/starter.yaml", "config/reference.yaml",
                                                 "tests/settings/mutants/edge.yaml"};
constexpr int kLongestMs = 2000;  // of processor time: a board is ten times slower than a desk
constexpr rlim_t kMostBytes = 256U << 20U;
constexpr std::size_t kKinds = 32;
constexpr int kMostTold = 10;  // failures in full

struct Options {
  std::uint64_t seed = 1, count = 3000;
  std::int64_t only = -1;
  int jobs = 2;
};

struct Tally {
  std::uint64_t refused = 0, accepted = 0, unchanged = 0;
};

// What a child shares with its parent: where it stands, and what it has seen.
struct Job {
  std::uint64_t at = 0;  // the mutant under way
  std::array<Tally, kKinds> kinds{};
  std::uint64_t failed = 0;
  std::int64_t slowest_us = 0;
};

std::int64_t processor_us() {
  rusage used{};
  getrusage(RUSAGE_SELF, &used);
  return (used.ru_utime.tv_sec + used.ru_stime.tv_sec) * 1'000'000L + used.ru_utime.tv_usec +
         used.ru_stime.tv_usec;
}

// A load that does not end, or that eats the machine, ends its child. AddressSanitizer's own maps
// are larger than any bound.
#if defined(__SANITIZE_ADDRESS__)
constexpr bool kAddressSanitizer = true;
#elif defined(__has_feature)
constexpr bool kAddressSanitizer = __has_feature(address_sanitizer);
#else
constexpr bool kAddressSanitizer = false;
#endif
void bound_this_process() {
  const rlimit memory{kMostBytes, kMostBytes};
  if (!kAddressSanitizer) setrlimit(RLIMIT_AS, &memory);
}
void start_the_clock() {
  const itimerval limit{{0, 0}, {kLongestMs / 1000, kLongestMs % 1000 * 1000}};
  setitimer(ITIMER_PROF, &limit, nullptr);
}

// What is wrong with an answer of the loader; empty when nothing is.
std::vector<std::string> faults_of(const std::string& text, const LoadResult& result) {
  std::vector<std::string> faults;
  if (result.loaded.has_value() == !result.problems.empty())
    faults.emplace_back("neither a plan nor problems, or both");
  const auto lines = static_cast<int>(std::count(text.begin(), text.end(), '\n')) + 1;
  for (const Problem& problem : result.problems) {
    if (problem.line < 0 || problem.line > lines) faults.emplace_back("a problem off the text");
    if (problem.message.empty() || problem.remedy.empty())
      faults.emplace_back("a problem without its words");
    if (render("x", text, problem).empty()) faults.emplace_back("a problem that does not show");
  }
  if (result.loaded)
    for (const Breach& breach : breaches(result.loaded->plan, result.loaded->hardware))
      faults.push_back("accepted, though not so: " + std::string(breach.ceiling) +
                       (breach.where.empty() ? "" : " (" + breach.where + ")"));
  return faults;
}

std::vector<std::string> good_files() {
  std::vector<std::string> files;
  for (const auto name : kFiles) files.push_back(read_all(source_dir() / name));
  return files;
}

void tell(const Options& options, std::uint64_t number, const Mutant& mutant,
          const std::string& what) {
  std::printf("mutant %" PRIu64 " (%s, %s): %s; replay: --seed %" PRIu64 " --only %" PRIu64 "\n",
              number, std::string(kFiles[mutant.file]).c_str(),
              std::string(mutations()[mutant.kind].name).c_str(), what.c_str(), options.seed,
              number);
  std::fflush(stdout);
}

void load_some(const Options& options, std::uint64_t first, Job& job) {
  const auto files = good_files();
  bound_this_process();
  for (std::uint64_t i = first; i < options.count; i += static_cast<std::uint64_t>(options.jobs)) {
    job.at = i;
    const Mutant mutant = make_mutant(files, options.seed, i);
    start_the_clock();
    const std::int64_t began = processor_us();
    const LoadResult result = load_text(mutant.text);
    const std::vector<std::string> faults = faults_of(mutant.text, result);
    job.slowest_us = std::max(job.slowest_us, processor_us() - began);
    Tally& tally = job.kinds[mutant.kind];
    if (mutant.text == files[mutant.file])
      ++tally.unchanged;
    else
      ++(result.loaded ? tally.accepted : tally.refused);
    if (faults.empty()) continue;
    if (++job.failed <= kMostTold) tell(options, i, mutant, faults.front());
  }
}

std::string ended_by(int status) {
  if (WIFSIGNALED(status))
    return WTERMSIG(status) == SIGPROF ? "took over " + std::to_string(kLongestMs) + " ms"
                                       : "ended by signal " + std::to_string(WTERMSIG(status));
  return "ended with status " + std::to_string(WEXITSTATUS(status));
}

int show_one(const Options& options) {
  const auto files = good_files();
  const auto number = static_cast<std::uint64_t>(options.only);
  const Mutant mutant = make_mutant(files, options.seed, number);
  std::printf("%s\n", mutant.text.c_str());
  std::fflush(stdout);
  bound_this_process();
  start_the_clock();
  const LoadResult result = load_text(mutant.text);
  for (const Problem& problem : result.problems)
    std::printf("%s", render("mutant", mutant.text, problem).c_str());
  const auto faults = faults_of(mutant.text, result);
  for (const auto& fault : faults) tell(options, number, mutant, fault);
  std::printf("%s\n", result.loaded ? "accepted" : "refused");
  return faults.empty() ? 0 : 1;
}

void print(const std::vector<Job*>& jobs, const Options& options, std::uint64_t failed) {
  Tally all;
  std::int64_t slowest_us = 0;
  std::printf("%-22s %9s %9s %10s\n", "mutation", "refused", "accepted", "unchanged");
  for (std::size_t kind = 0; kind < mutations().size(); ++kind) {
    Tally sum;
    for (const Job* job : jobs) {
      sum.refused += job->kinds[kind].refused;
      sum.accepted += job->kinds[kind].accepted;
      sum.unchanged += job->kinds[kind].unchanged;
      slowest_us = std::max(slowest_us, job->slowest_us);
    }
    all.refused += sum.refused;
    all.accepted += sum.accepted;
    all.unchanged += sum.unchanged;
    std::printf("%-22s %9" PRIu64 " %9" PRIu64 " %10" PRIu64 "\n",
                std::string(mutations()[kind].name).c_str(), sum.refused, sum.accepted,
                sum.unchanged);
  }
  rusage used{};
  getrusage(RUSAGE_CHILDREN, &used);
  std::printf("settings_mutants: seed %" PRIu64 ", %" PRIu64 " refused, %" PRIu64
              " accepted, %" PRIu64 " unchanged; slowest load %" PRId64
              " ms, most memory %ld MiB; %" PRIu64 " failed\n",
              options.seed, all.refused, all.accepted, all.unchanged, slowest_us / 1000,
              used.ru_maxrss / 1024, failed);
}

// A file that is refused as it stands would make mutants that prove nothing.
bool are_good(const std::vector<std::string>& files) {
  for (std::size_t i = 0; i < files.size(); ++i) {
    const LoadResult result = load_text(files[i]);
    for (const Problem& problem : result.problems)
      std::printf("%s", render(std::string(kFiles[i]), files[i], problem).c_str());
    for (const std::string& fault : faults_of(files[i], result))
      std::printf("%s: %s\n", std::string(kFiles[i]).c_str(), fault.c_str());
    if (!result.loaded || !faults_of(files[i], result).empty()) return false;
  }
  return true;
}

int run(const Options& options) {
  if (!are_good(good_files())) return 2;
  if (options.only >= 0) return show_one(options);
  std::vector<Job*> jobs;
  std::vector<pid_t> children;
  for (int i = 0; i < options.jobs; ++i) {
    void* shared =
        mmap(nullptr, sizeof(Job), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    if (shared == MAP_FAILED) return 2;
    jobs.push_back(new (shared) Job);
    const pid_t child = fork();
    if (child < 0) return 2;
    if (child == 0) {
      load_some(options, static_cast<std::uint64_t>(i), *jobs.back());
      _exit(0);
    }
    children.push_back(child);
  }
  std::uint64_t failed = 0;
  for (std::size_t i = 0; i < children.size(); ++i) {
    int status = 0;
    if (waitpid(children[i], &status, 0) != children[i]) return 2;
    failed += jobs[i]->failed;
    if (status == 0) continue;
    ++failed;
    tell(options, jobs[i]->at, make_mutant(good_files(), options.seed, jobs[i]->at),
         ended_by(status));
  }
  print(jobs, options, failed);
  return failed == 0 ? 0 : 1;
}

}  // namespace
}  // namespace neap::settings

int main(int argc, char** argv) {
  neap::settings::Options options;
  CLI::App app("ruins the shipped settings and looks at what the loader says");
  app.add_option("--count", options.count, "how many mutants")->check(CLI::PositiveNumber);
  app.add_option("--seed", options.seed, "the same seed makes the same mutants");
  app.add_option("--only", options.only, "one mutant, with its text and its problems");
  app.add_option("--jobs", options.jobs, "how many at once")->check(CLI::Range(1, 64));
  CLI11_PARSE(app, argc, argv);
  return neap::settings::run(options);
}
