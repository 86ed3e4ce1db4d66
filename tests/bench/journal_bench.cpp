// How fast a virtual clock may run before the journal holds it up. Prints, judges nothing.
#include <chrono>
#include <cstdio>
#include <filesystem>

#include "daemon/journal/journal.h"

int main() {
  using namespace neap;
  constexpr int kReadings = 12000000;
  constexpr int kPointsInScan = 20;
  const auto path = std::filesystem::temp_directory_path() / "neap-journal-bench.db";
  for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(path.string() + tail);

  journal::Options options;
  options.path = path.string();
  options.durability = journal::Durability::simulated;
  const auto begun = std::chrono::steady_clock::now();
  {
    const auto writer = journal::Writer::open(options);
    for (int i = 0; i < kReadings; ++i) {
      const std::int64_t tick = 4294967000 + i / kPointsInScan * 1000;
      const PointInfo& point = kPoints[static_cast<std::size_t>(i % kPointsInScan)];
      writer->put(journal::ReadingEntry{instant(Millis{tick}), point.point, 20 + i % 777 * 0.01,
                                        Quality::good, Fault::none});
    }
  }
  const double s = std::chrono::duration<double>(std::chrono::steady_clock::now() - begun).count();
  std::printf("journal: %d readings in %.2f s, %.0f a second, %.1f bytes each\n", kReadings, s,
              kReadings / s, static_cast<double>(std::filesystem::file_size(path)) / kReadings);
  for (const char* tail : {"", "-wal", "-shm"}) std::filesystem::remove(path.string() + tail);
}
