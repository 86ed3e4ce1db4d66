// The desk: where requests of the control protocol are checked and carried out. It knows nothing of
// sockets: text in, text out, and who asked. Refuses what is malformed, late, too much or not
// permitted; gives a repeated request its first answer again; journals everybody who asked for a
// change.
#pragma once

#include <cstdint>
#include <functional>
#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include "daemon/shell/loop.h"

namespace neap::shell {

// What a peer may do; each role includes those before it.
enum class Role : std::uint8_t { none = 0, view = 1, operate = 2, administer = 3 };

struct Peer {
  std::uint32_t uid = 0;
  std::int32_t pid = 0;
  Role role = Role::none;
};

class Desk {
 public:
  static constexpr Millis kRepeatWindow = seconds{60};
  static constexpr int kDepth = 8;

  explicit Desk(Daemon& daemon, std::string settings_path)
      : daemon_(daemon), settings_path_(std::move(settings_path)) {}

  using Send = std::function<void(const std::string&)>;
  // `arrived`: when the request's first byte came. `send` is called once, now or after a scan;
  // never when the text is no request at all (then this returns false and the connection should
  // end).
  bool handle(const std::string& text, const Peer& peer, Instant arrived, Send send);

 private:
  struct Turn {  // one request, until its window is over
    Instant asked{};
    std::string answer;  // empty while it is being carried out
    std::vector<Send> waiting;
  };
  using Key = std::pair<std::uint32_t, std::int64_t>;  // uid, request id
  struct Rate {
    std::int64_t second = 0;
    int count = 0;
  };
  bool over_rate(std::uint32_t uid);
  void forget_old();
  void finish(const Key& key, const std::string& answer);

  Daemon& daemon_;
  std::string settings_path_;
  std::map<Key, Turn> turns_;
  std::map<std::uint32_t, Rate> rates_;
};

}  // namespace neap::shell
