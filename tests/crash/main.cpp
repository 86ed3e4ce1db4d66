// crash: thousands of disks as a power cut leaves them, each started again and judged.
#include <sys/wait.h>
#include <unistd.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <array>
#include <cerrno>
#include <chrono>
#include <cinttypes>
#include <cstdio>
#include <filesystem>
#include <stdexcept>
#include <unordered_set>

#include "tests/crash/life.h"

namespace neap::crash {
namespace {

struct Options {
  std::uint64_t first = 1;
  std::size_t lives = 8;
  std::size_t states_a_segment = 480;
  std::size_t faults = 0;
  std::uint64_t jobs = 2;                         // processes; each takes every so manieth life
  std::optional<std::size_t> segment, cut, loss;  // one state again
};

struct Totals {
  std::array<std::size_t, kLosses.size()> states{};
  std::size_t one_slot = 0, recovered = 0, packed = 0, bad = 0, ops = 0;
  std::size_t failing_lives = 0, faults_met = 0;
  void add(const Totals& other) {
    for (std::size_t i = 0; i < states.size(); ++i) states[i] += other.states[i];
    one_slot += other.one_slot;
    recovered += other.recovered;
    packed += other.packed;
    bad += other.bad;
    ops += other.ops;
    failing_lives += other.failing_lives;
    faults_met += other.faults_met;
  }
  std::size_t all() const {
    std::size_t sum = 0;
    for (const std::size_t n : states) sum += n;
    return sum;
  }
};

class Folders {
 public:
  Folders() {
    std::string pattern = std::filesystem::temp_directory_path() / "neap-crash-XXXXXX";
    root_ = ::mkdtemp(pattern.data());
    for (const char* name : {"life", "scratch", "found"})
      std::filesystem::create_directory(root_ + "/" + name);
  }
  ~Folders() {
    std::error_code ignored;
    std::filesystem::remove_all(root_, ignored);
  }
  Folders(const Folders&) = delete;
  Folders& operator=(const Folders&) = delete;
  std::string operator/(const std::string& name) const { return root_ + "/" + name; }

 private:
  std::string root_;
};

// What is drawn for one state: from its place alone, so that it can be had again.
Draw draw_of(const Segment& segment, std::size_t cut, std::size_t loss) {
  return Draw(((segment.life * 16 + static_cast<std::uint64_t>(segment.number)) << 32) +
              cut * kLosses.size() + loss);
}

// Half of the cuts anywhere; a quarter near a sync, an eighth each near a write to the pump's line
// and where an hour is packed: there most hangs on the order.
std::vector<std::size_t> draw_cuts(const Segment& segment, std::size_t count) {
  std::vector<std::size_t> syncs, pins, packings;
  for (const auto& [from, to] : segment.packings)
    for (std::size_t i = from; i < to; ++i) packings.push_back(i);
  for (std::size_t i = 0; i < segment.ops.size(); ++i) {
    if (segment.ops[i].kind == Op::Kind::sync) syncs.push_back(i);
    if (segment.ops[i].kind == Op::Kind::pin && segment.ops[i].file == 0) pins.push_back(i);
  }
  Draw draw(segment.life * 77 + static_cast<std::uint64_t>(segment.number));
  std::vector<std::size_t> cuts;
  for (std::size_t i = 0; i < count; ++i) {
    const std::vector<std::size_t>& near = i % 4 == 0 ? syncs : i % 8 == 2 ? pins : packings;
    if (i % 2 == 1 || near.empty())
      cuts.push_back(draw.below(segment.ops.size() + 1));
    else
      cuts.push_back(std::min(near[draw.below(near.size())] + draw.below(4), segment.ops.size()));
  }
  std::ranges::sort(cuts);
  return cuts;
}

class Campaign {
 public:
  Campaign(const Options& options, std::uint64_t job) : options_(options), job_(job) {}
  Totals run();

 private:
  void lives();
  void failing_disks();
  void failing_disk(std::uint64_t number);
  void states(const Segment& segment);
  void state(const Segment& segment, const Platter& platter, std::size_t cut, std::size_t loss,
             std::unordered_set<std::uint64_t>& seen);
  void tell(const Segment& segment, std::size_t cut, std::size_t loss, const Verdict& verdict);

  Options options_;
  std::uint64_t job_;
  Folders folders_;
  Totals totals_;
  Image seasoned_;  // the disk of a board that has run for half an hour
};

void Campaign::tell(const Segment& segment, std::size_t cut, std::size_t loss,
                    const Verdict& verdict) {
  totals_.bad += !verdict.broken.empty();
  for (const std::string& what : verdict.broken)
    std::printf("crash: %s; %.*s, replay: tests/crash/run --life %" PRIu64
                " --segment %d --cut %zu --loss %zu\n",
                what.c_str(), static_cast<int>(kLosses[loss].name.size()),
                kLosses[loss].name.data(), segment.life, segment.number, cut, loss);
  std::fflush(stdout);
}

void Campaign::state(const Segment& segment, const Platter& platter, std::size_t cut,
                     std::size_t loss, std::unordered_set<std::uint64_t>& seen) {
  Draw draw = draw_of(segment, cut, loss);
  const Image image = platter.image(kLosses[loss].loss, draw);
  if (!seen.insert(image.what).second) return;
  const bool powered = kLosses[loss].loss == Loss::nothing && draw.chance(0.5);
  const Millis outage = seconds{draw.chance(0.3) ? 2 : 60 + static_cast<int>(draw.below(1200))};
  const Verdict verdict =
      judge(segment, cut, image, powered, outage, draw.next() | 1, folders_ / "found");
  ++totals_.states[loss];
  totals_.one_slot += verdict.one_slot;
  totals_.recovered += verdict.rows_recovered;
  totals_.packed += verdict.packed;
  tell(segment, cut, loss, verdict);
}

void Campaign::states(const Segment& segment) {
  Platter platter(segment.disk_before, segment.ops);
  std::unordered_set<std::uint64_t> seen;
  if (options_.cut) {
    platter.advance(*options_.cut);
    return state(segment, platter, *options_.cut, *options_.loss, seen);
  }
  std::size_t i = 0;
  for (const std::size_t cut : draw_cuts(segment, options_.states_a_segment)) {
    platter.advance(cut);
    state(segment, platter, cut, i++ % kLosses.size(), seen);
  }
}

void Campaign::lives() {
  const std::uint64_t end = options_.first + options_.lives;
  for (std::uint64_t life = options_.first + job_; life < end; life += options_.jobs) {
    std::optional<Segment> segment;
    Image disk;
    std::size_t cut = 0;
    Draw draw(life);
    for (int number = 0; number < kSegments; ++number) {
      const bool powered = segment && draw.chance(0.3);
      const Millis outage = seconds{10 + static_cast<int>(draw.below(1200))};
      Stretch stretch;
      stretch.length = minutes{30 + static_cast<int>(draw.below(90))};
      segment = live(life, number, segment ? &*segment : nullptr, cut, disk, powered, outage,
                     stretch, folders_ / "life", folders_ / "scratch");
      totals_.ops += segment->ops.size();
      if (!options_.segment || *options_.segment == static_cast<std::size_t>(number))
        states(*segment);
      // Where the next stretch begins.
      cut = segment->ops.size() / 2 + draw.below(segment->ops.size() / 2);
      Platter platter(segment->disk_before, segment->ops);
      platter.advance(cut);
      disk = platter.image(powered ? Loss::nothing : Loss::sectors, draw);
    }
  }
}

struct FaultKind {
  DiskFault::Call call;
  std::size_t within;  // the first that fails is one of so many
};
constexpr std::array kFaultKinds{
    FaultKind{DiskFault::Call::write, 400}, FaultKind{DiskFault::Call::write, 60},
    FaultKind{DiskFault::Call::sync, 100},  FaultKind{DiskFault::Call::sync, 20},
    FaultKind{DiskFault::Call::open, 6},    FaultKind{DiskFault::Call::resize, 3},
    FaultKind{DiskFault::Call::rename, 3}};
constexpr std::array kErrors{EIO, ENOSPC, EROFS};
constexpr std::uint64_t kFailingDisks = 1'000'000;  // lives from here on are on failing disks

Stretch draw_failing(Draw& draw) {
  Stretch stretch;
  stretch.length = minutes{14};
  const FaultKind& kind = kFaultKinds[draw.below(kFaultKinds.size())];
  DiskFault fault;
  fault.call = kind.call;
  fault.nth = 1 + static_cast<int>(draw.below(kind.within));
  fault.for_ever = draw.chance(0.4);
  fault.error = kErrors[draw.below(kErrors.size())];
  fault.loses_pages = draw.chance(0.7);
  stretch.fault = fault;
  if (draw.chance(0.7)) stretch.fault_from = seconds{static_cast<int>(draw.below(300))};
  if (fault.for_ever && draw.chance(0.6))
    stretch.heals_at = minutes{6} + seconds{static_cast<int>(draw.below(240))};
  return stretch;
}

// A quarter of an hour on a disk that fails: while it does, and for ever if it does not heal, what
// was acknowledged is kept; afterwards all of it is.
void Campaign::failing_disk(std::uint64_t number) {
  if (seasoned_.files.empty()) {
    Stretch stretch;
    stretch.length = minutes{30};
    const Segment before = live(kFailingDisks - 1, 0, nullptr, 0, {}, false, Millis{}, stretch,
                                folders_ / "life", folders_ / "scratch");
    Platter platter(before.disk_before, before.ops);
    platter.advance(before.ops.size());
    seasoned_ = platter.image(Loss::nothing, Draw(1));
  }
  Draw draw(number);
  const Stretch stretch = draw_failing(draw);
  const bool seasoned = draw.chance(0.7);
  const Segment segment = live(number, 0, nullptr, 0, seasoned ? seasoned_ : Image{}, false,
                               Millis{}, stretch, folders_ / "life", folders_ / "scratch");
  ++totals_.failing_lives;
  totals_.faults_met += segment.fault_met;
  const Moment& last = segment.moments.back();
  if (segment.well_from <= last.op && last.acknowledged.events < segment.ledger.events.size())
    tell(segment, last.op, 0,
         {{"the disk is well again, and the journal has not caught up"}, false, false, false});
  Platter platter(segment.disk_before, segment.ops);
  std::unordered_set<std::uint64_t> seen;
  if (options_.cut) {
    platter.advance(*options_.cut);
    return state(segment, platter, *options_.cut, *options_.loss, seen);
  }
  for (std::size_t i = 0; i < segment.ops.size(); ++i) {
    const Op& op = segment.ops[i];
    const bool pump = op.kind == Op::Kind::pin && op.file == 0 && op.at > 0;
    if (!pump && op.kind != Op::Kind::lost_sync && !draw.chance(0.002)) continue;
    platter.advance(i + 1);
    state(segment, platter, i + 1, pump ? 1 : draw.below(kLosses.size()), seen);
  }
  platter.advance(segment.ops.size());
  for (const std::size_t loss : {0, 1, 5}) state(segment, platter, segment.ops.size(), loss, seen);
}

void Campaign::failing_disks() {
  for (std::uint64_t i = job_; i < options_.faults; i += options_.jobs)
    failing_disk(kFailingDisks + i);
}

Totals Campaign::run() {
  if (options_.first < kFailingDisks) {
    lives();
    failing_disks();
  } else {
    failing_disk(options_.first);
  }
  return totals_;
}

// A process of its own: the recorder knows one disk a process. The read end of a pipe with its
// totals.
int begin_job(const Options& options, std::uint64_t job) {
  int ends[2];
  if (::pipe(ends) != 0) throw std::runtime_error("no pipe");
  std::fflush(stdout);
  if (::fork() != 0) {
    ::close(ends[1]);
    return ends[0];
  }
  ::close(ends[0]);
  try {
    const Totals totals = Campaign(options, job).run();
    if (::write(ends[1], &totals, sizeof totals) != sizeof totals) ::_exit(1);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "crash: %s\n", error.what());
    ::_exit(1);
  }
  ::_exit(0);
}

int run(const Options& options) {
  const auto began = std::chrono::steady_clock::now();
  std::vector<int> jobs;
  for (std::uint64_t job = 0; job < options.jobs; ++job) jobs.push_back(begin_job(options, job));
  Totals totals;
  for (const int job : jobs) {
    Totals part;
    const bool whole = ::read(job, &part, sizeof part) == sizeof part;
    ::close(job);
    ::wait(nullptr);
    if (!whole) throw std::runtime_error("a job ended before its time");
    totals.add(part);
  }
  const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
  for (std::size_t i = 0; i < kLosses.size(); ++i)
    std::printf("  %-20.*s %6zu\n", static_cast<int>(kLosses[i].name.size()),
                kLosses[i].name.data(), totals.states[i]);
  std::printf(
      "  state from the one copy that was whole %zu; events beyond the acknowledged %zu; "
      "with packed readings %zu\n",
      totals.one_slot, totals.recovered, totals.packed);
  std::printf(
      "crash: %zu different disks in %.0f s, of %zu lives (%zu operations) and %zu on failing "
      "disks (%zu met the fault); %zu bad\n",
      totals.all(), took.count(), options.lives, totals.ops, totals.failing_lives,
      totals.faults_met, totals.bad);
  return totals.bad == 0 ? 0 : 1;
}

}  // namespace
}  // namespace neap::crash

int main(int argc, char** argv) {
  using neap::crash::Options;
  Options options;
  CLI::App app{"disks as a power cut leaves them, each started again and judged"};
  app.add_option("--first", options.first, "first life");
  app.add_option("--lives", options.lives, "how many");
  app.add_option("--jobs", options.jobs, "processes")->check(CLI::Range(1, 64));
  app.add_option("--faults", options.faults, "lives on failing disks, after the others");
  app.add_option("--states", options.states_a_segment, "of each of a life's three stretches");
  app.add_option_function<std::uint64_t>(
      "--life",
      [&](std::uint64_t only) {
        options.first = only;
        options.lives = 1;
        options.jobs = 1;
      },
      "one life again");
  auto* segment = app.add_option("--segment", options.segment, "one stretch of it");
  auto* cut = app.add_option("--cut", options.cut, "one cut")->needs(segment);
  app.add_option("--loss", options.loss, "one way to lose")
      ->needs(cut)
      ->check(CLI::Range(std::size_t{0}, neap::crash::kLosses.size() - 1));
  CLI11_PARSE(app, argc, argv);
  try {
    return neap::crash::run(options);
  } catch (const std::exception& error) {
    std::fprintf(stderr, "crash: %s\n", error.what());
    return 2;
  }
}
