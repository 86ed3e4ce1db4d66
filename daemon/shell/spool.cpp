#include "daemon/shell/spool.h"

#include <filesystem>

#include "daemon/shell/measurements.h"
#include "daemon/words/words.h"

namespace neap::shell {

Spool::Spool(Daemon& daemon, TimerQueue& timers, std::string folder, LogSink log)
    : daemon_(daemon), timers_(timers), folder_(std::move(folder)), log_(std::move(log)) {
  round();
}

void Spool::round() {
  timers_.cancel(timer_);
  timer_ = timers_.at(timers_.now() + kRound, [this] { round(); });
  std::error_code error;
  if (!daemon_.journal().trouble())
    for (const std::string& path : std::exchange(taken_, {})) std::filesystem::remove(path, error);
  int left = kFilesARound;
  for (std::filesystem::directory_iterator item(folder_, error), end; !error && item != end;
       item.increment(error)) {
    const std::filesystem::path& path = item->path();
    if (path.extension() != ".json" || taken_.contains(path.string())) continue;
    if (left-- == 0) break;
    take(path.string());
  }
}

void Spool::take(const std::string& path) {
  const std::optional<std::string> text = read_file(path, kLongestFile, Links::refuse);
  if (!text) return refuse(path, "is no regular file of at most 16 KiB");
  nlohmann::json args = nlohmann::json::parse(*text, nullptr, false);
  if (!args.is_object() || !args.contains("spool_id") || !args["spool_id"].is_string())
    return refuse(path, "is no JSON object with a spool_id");
  if (!settle_date(args, daemon_.wall())) return tell_waiting(path);
  const auto take_in = args.contains("of")     ? take_in_amendment
                       : args.contains("kind") ? take_in_diary
                                               : take_in_measurements;
  const TakenIn taken = take_in(daemon_, args, "spool");
  if (!taken.error.empty()) return refuse(path, taken.error);
  taken_.insert(path);
}

void Spool::tell_waiting(const std::string& path) {
  if (waiting_.insert(path).second)
    log_(LogLevel::warning, "spool: " + words::printable(path) +
                                " is dated ahead of this board's clock, which nobody confirms; it "
                                "waits until the time is synchronised");
}

void Spool::refuse(const std::string& path, const std::string& why) {
  log_(LogLevel::warning, "spool: " + words::printable(path) + ": " + why);
  std::error_code error;
  std::filesystem::rename(path, path + ".refused", error);
}

}  // namespace neap::shell
