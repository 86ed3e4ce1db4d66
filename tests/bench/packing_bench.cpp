// How long a batch takes in which an hour is packed, beside the others. Puts days of 20 points at
// 10 s a minute at a time through the store of neapd, each commit synced. Prints, judges nothing.
//   packing_bench FOLDER [DAYS]   FOLDER on the disk that is meant
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <vector>

#include "daemon/journal/block.h"
#include "daemon/journal/store.h"

namespace neap::journal {
namespace {

constexpr std::int64_t kStepMs = 10000;
constexpr std::int64_t kBatchMs = 60000;
constexpr int kPointsPut = 20;
constexpr std::int64_t kBegin = 1000 * kHourMs;

std::vector<PackedReading> minute(std::int64_t from, std::uint64_t& random) {
  std::vector<PackedReading> readings;
  for (std::int64_t tick = from; tick < from + kBatchMs; tick += kStepMs)
    for (int p = 0; p < kPointsPut; ++p) {
      random = random * 6364136223846793005ULL + 1442695040888963407ULL;
      readings.push_back(
          {tick * kPointsInKey + p, 2000 + static_cast<std::int64_t>(random >> 60), 2});
    }
  return readings;
}

void tell(const char* what, std::vector<double> ms) {
  if (ms.empty()) return;
  std::sort(ms.begin(), ms.end());
  const auto at = [&](double share) {
    return ms[static_cast<std::size_t>(share * static_cast<double>(ms.size() - 1))];
  };
  std::printf("  %-34s %6zu   p50 %6.2f   p99 %6.2f   max %6.2f ms\n", what, ms.size(), at(0.5),
              at(0.99), ms.back());
}

// Of this thread: on a machine that is shared the other times are also those of others.
double computed_ms() {
  timespec now{};
  ::clock_gettime(CLOCK_THREAD_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) * 1e3 + static_cast<double>(now.tv_nsec) / 1e6;
}

// False: the journal could not be opened.
bool measure(const std::string& path, Durability durability, int days) {
  for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(path + tail);
  Options options;
  options.path = path;
  options.durability = durability;
  const auto opened = Store::open(options);
  if (!opened.store) return std::fprintf(stderr, "%s\n", opened.problem.c_str()), false;
  std::vector<double> plain, packing, computing;
  std::uint64_t random = 1;
  for (std::int64_t from = kBegin; from < kBegin + days * 24 * kHourMs; from += kBatchMs) {
    const auto readings = minute(from, random);
    Batch batch;
    batch.readings = readings;
    const auto began = std::chrono::steady_clock::now();
    const double computed = computed_ms();
    opened.store->write(batch);
    const std::chrono::duration<double, std::milli> took = std::chrono::steady_clock::now() - began;
    const bool packs = from % kHourMs == 0 && from >= kBegin + 3 * kHourMs;
    (packs ? packing : plain).push_back(took.count());
    if (packs) computing.push_back(computed_ms() - computed);
  }
  std::printf("a minute of 20 points into the journal, %s:\n",
              durability == Durability::full ? "synced" : "not synced");
  tell("batches that pack nothing", plain);
  tell("batches that pack an hour", packing);
  tell("of these, time on a processor", computing);
  return true;
}

int run(const std::string& folder, int days) {
  const std::string path = folder + "/packing-bench.db";
  const bool done =
      measure(path, Durability::full, days) && measure(path, Durability::simulated, days);
  for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(path + tail);
  return done ? 0 : 1;
}

}  // namespace
}  // namespace neap::journal

int main(int argc, char** argv) {
  if (argc == 2 || argc == 3)
    return neap::journal::run(argv[1], argc == 3 ? std::atoi(argv[2]) : 10);
  std::fprintf(stderr, "usage: packing_bench FOLDER [DAYS]\n");
  return 2;
}
