#include "daemon/shell/state_file.h"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <cmath>
#include <cstring>
#include <map>
#include <type_traits>

#include "daemon/core/budget.h"
#include "daemon/core/roots.h"
#include "daemon/shell/files.h"
#include "daemon/shell/kept_fields.h"

namespace neap::shell {
namespace {

template <class V>
void visit_stored(V& visit, Stored& stored) {
  visit("boot.last_tick", stored.boot.last_tick);
  visit("boot.clean_stop", stored.boot.clean_stop);
  for (std::size_t i = 0; i < stored.boot.dirty_starts.size(); ++i)
    visit("boot.dirty_start" + std::to_string(i), stored.boot.dirty_starts[i]);
  visit("boot.dirty_count", stored.boot.dirty_count);
  visit("boot.safe_mode_until", stored.boot.safe_mode_until);
  visit_kept(visit, stored.kept);
}

struct WriteFields {
  std::string text;

  template <class T>
  void operator()(const std::string& name, const T& field) {
    std::array<char, 40> digits{};
    std::to_chars_result end{};
    if constexpr (std::is_same_v<T, bool>)
      end = std::to_chars(digits.data(), digits.data() + digits.size(), field ? 1 : 0);
    else if constexpr (std::is_enum_v<T>)
      end = std::to_chars(digits.data(), digits.data() + digits.size(),
                          static_cast<std::uint64_t>(field));
    else
      end = std::to_chars(digits.data(), digits.data() + digits.size(), field);
    text.append(name).append(" ").append(digits.data(), end.ptr).append("\n");
  }
};

struct ReadFields {
  const std::map<std::string_view, std::string_view>& values;
  bool good = true;
  std::size_t known = 0;  // of the names in `values`

  template <class T>
  void operator()(const std::string& name, T& field) {
    const auto found = values.find(name);
    if (found == values.end()) return;  // an older file: the default stands
    ++known;
    if constexpr (std::is_same_v<T, bool>) {
      std::uint8_t value = 0;
      take(found->second, value);
      good = good && value <= 1;
      field = value == 1;
    } else if constexpr (std::is_enum_v<T>) {
      std::underlying_type_t<T> value{};
      take(found->second, value);
      field = static_cast<T>(value);
    } else {
      take(found->second, field);
      if constexpr (std::is_floating_point_v<T>) good = good && std::isfinite(field);
    }
  }

  template <class T>
  void take(std::string_view text, T& value) {
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    good = good && error == std::errc{} && end == text.data() + text.size();
  }
};

std::string failure(const std::string& path) { return path + ": " + std::strerror(errno); }

}  // namespace

std::string to_text(const Stored& stored) {
  Stored copy = stored;  // the visitor takes references; what it writes back is what it read
  WriteFields write;
  visit_stored(write, copy);
  return std::move(write.text);
}

std::optional<Stored> stored_from(std::string_view body) {
  std::map<std::string_view, std::string_view> values;
  while (!body.empty()) {
    const std::size_t end = body.find('\n');
    const std::string_view line = body.substr(0, end);
    const std::size_t blank = line.find(' ');
    if (end == std::string_view::npos || blank == std::string_view::npos) return std::nullopt;
    values.emplace(line.substr(0, blank), line.substr(blank + 1));
    body.remove_prefix(end + 1);
  }
  Stored out;
  ReadFields read{values};
  visit_stored(read, out);
  if (!read.good) return std::nullopt;
  out.of_later = read.known < values.size();
  return out;
}

StateFile::~StateFile() {
  if (fd_ >= 0) ::close(fd_);
}

StateFile::Answer StateFile::load() {
  const std::optional<std::string> bytes = read_file(path_, kStateFileBytes);
  if (!bytes) return {::access(path_.c_str(), F_OK) != 0 ? Found::absent : Found::damaged, {}};
  // Made and never written: the first start was cut off. What a later run left says so beside it.
  if (bytes->find_first_not_of('\0') == std::string::npos) return {};
  Answer best{Found::damaged, {}};
  int whole = 0;
  const auto slots = state_slots(*bytes);
  for (int number = 0; number < 2; ++number) {
    const std::string_view place = slots[static_cast<std::size_t>(number)];
    best.of_later = best.of_later || state_slot_is_later(place);
    const auto slot = state_slot_from(place);
    std::optional<Stored> stored;
    if (slot) stored = stored_from(slot->body);
    if (!stored) continue;
    ++whole;
    if (best.stored && slot->counter <= counter_) continue;
    best.found = Found::whole;
    best.stored = std::move(stored);
    counter_ = slot->counter;
    newest_slot_ = number;
  }
  best.one_damaged = whole == 1;
  if (best.stored) best.of_later = best.stored->of_later;
  return best;
}

// Opens the file, created and preallocated at its full size when it is new, so that a save never
// needs a free block on a full card. The first time its name is made durable too: it may be new, or
// a power cut may have come before that.
std::string StateFile::open() {
  if (fd_ >= 0) return {};
  const int fd = ::open(path_.c_str(), O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0640);
  if (fd < 0) return failure(path_);
  struct stat status {};
  const auto whole = static_cast<off_t>(kStateFileBytes);
  std::string error;
  if (::fstat(fd, &status) != 0)
    error = failure(path_);
  else if (status.st_size < whole)
    if (const int refused = ::posix_fallocate(fd, 0, whole); refused != 0)
      error = path_ + ": " + std::strerror(refused);
  if (error.empty() && durable_ && !named_) error = sync_folder_of(path_);
  if (!error.empty()) {
    ::close(fd);
    return error;
  }
  named_ = true;
  fd_ = fd;
  return {};
}

std::string StateFile::save(const Stored& stored) {
  const std::string body = to_text(stored);
  if (body == last_body_) return {};
  const std::string bytes = state_slot(counter_ + 1, body);
  if (bytes.size() > kSlotBytes) return path_ + ": state is larger than its slot";
  const int older = 1 - newest_slot_;
  if (std::string error = write_slot(older, bytes); !error.empty()) return error;
  ++counter_;
  newest_slot_ = older;
  last_body_.clear();
  if (std::string error = write_slot(1 - older, bytes); !error.empty()) return error;
  last_body_ = body;
  return {};
}

std::string StateFile::write_slot(int number, const std::string& bytes) {
  if (std::string error = open(); !error.empty()) return error;
  const auto at = static_cast<off_t>(static_cast<std::size_t>(number) * kSlotBytes);
  const ssize_t put = ::pwrite(fd_, bytes.data(), bytes.size(), at);
  const bool whole = put == static_cast<ssize_t>(bytes.size());
  if (whole && (!durable_ || ::fdatasync(fd_) == 0)) return {};
  // A short write says nothing by errno: the card is full.
  const std::string error = whole || put < 0 ? failure(path_) : path_ + ": no space is left";
  // After a failed sync nothing is known of the pages: open afresh, write again next time.
  ::close(fd_);
  fd_ = -1;
  return error;
}

Kept worst_case(const Plan& plan, Instant now, Kept known) {
  Kept kept = std::move(known);
  kept.budget = spent_day(plan.table, now);
  kept.kernel.latched[static_cast<std::size_t>(Latch::state_lost)] = true;
  RootsClock& roots = kept.roots;
  if (!roots.running) {
    roots = RootsClock{};
    roots.running = true;
    roots.since_tick = roots.counted_tick = tick_ms(now);
  }
  roots.spent = std::max(roots.spent, dry_out(plan.table).count() * 1000 / 2);
  return kept;
}

}  // namespace neap::shell
