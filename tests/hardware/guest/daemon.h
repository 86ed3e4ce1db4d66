// The real neapd as a process of a test: started, asked, stopped, killed.
#pragma once

#include <sys/types.h>

#include <string>
#include <vector>

namespace hardware {

// Where a daemon tells that it lives, as systemd's NOTIFY_SOCKET; a new socket at `address`.
int open_notify_socket(const std::string& address);
// Reads one message of it: was that the WATCHDOG=1 of a scan's end?
bool tells_alive(int notify);

// The safe helper on a state directory; its exit code.
int outputs_safe(const std::string& state_dir);

class Daemon {
 public:
  // In a folder of its own, which is made; `settings` is the whole text.
  Daemon(std::string folder, const std::string& settings);
  ~Daemon() { kill_it(); }
  Daemon(const Daemon&) = delete;
  Daemon& operator=(const Daemon&) = delete;

  void write_settings(const std::string& text) const;
  // `notify`: the address of open_notify_socket(); empty: it tells nobody that it lives.
  void start(const std::string& notify = {});
  bool wait_until_it_answers(double seconds = 30);
  void send(int signal) const;
  void kill_it();          // SIGKILL, and collected
  int wait_for_its_end();  // its exit code
  bool runs() const;

  // The answer's JSON; empty while nobody answers.
  std::string ask(const std::string& verb, const std::string& args = "{}");
  bool granted(const std::string& verb, const std::string& args);
  // Was the pump's hold granted?
  bool hold_pump(int for_s);
  // The value of a point in `status`, as JSON has it: 23.5, or null.
  std::string reading(const std::string& point);
  bool has_alarm(const std::string& name);
  // What a person sees of `neap` with these words, where this daemon's socket and settings are.
  std::string by_hand(std::vector<std::string> words) const;
  std::string log() const;
  // The end of the log of the daemon that was started last: why a check failed.
  static std::string last_words();
  const std::string& folder() const { return folder_; }
  std::string state_dir() const { return folder_ + "/state"; }

 private:
  std::string folder_;
  pid_t pid_ = 0;
  int requests_ = 0;
};

}  // namespace hardware
