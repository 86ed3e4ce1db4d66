// In which form records are printed, and a journal that is followed while it is written.
#pragma once

#include <sys/types.h>

#include <memory>
#include <optional>

#include "daemon/client/session.h"

namespace neap::client {

enum class Form { table, json, csv, lines };
// A Failure when two forms are asked for at once, or one object of what has no end.
Form form_of(const Session& session);

// How many of the newest are wanted; `fallback` without --limit.
int limit_of(const Session& session, int fallback);
constexpr int kMostRecords = 1'000'000;

// A journal that others write, and may replace: opened anew when another file has its name.
class FollowedJournal {
 public:
  explicit FollowedJournal(const Session& session);  // a Failure when there is none
  journal::Reader& reader() { return *reader_; }
  // Waits for what comes. False when the person wants it to end, or nobody reads any more.
  bool wait();
  // Whether the last wait() found another file in its place.
  bool replaced() const { return replaced_; }

 private:
  std::optional<std::pair<dev_t, ino_t>> file() const;

  const Session& session_;
  std::unique_ptr<journal::Reader> reader_;
  std::optional<std::pair<dev_t, ino_t>> file_;
  bool replaced_ = false;
};

}  // namespace neap::client
