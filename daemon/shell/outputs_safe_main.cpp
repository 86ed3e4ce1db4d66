// neap-outputs-safe: drives every output of the settings in force to its safe level, from the
// output manifest alone. For ExecStopPost and for a person in doubt; never reads settings, needs no
// daemon.
//
// Exit codes: 0 all written and, where they can be read back, proven; 1 some were not; 2 usage;
// 4 no manifest, so nothing is known to drive.
#include <chrono>
#include <cstdio>

#include "daemon/shell/gate.h"

namespace {

using neap::shell::LogLevel;

// The gate asks for a queue only to keep leases; safe levels need none.
class NoTimers final : public neap::shell::TimerQueue {
 public:
  neap::Instant now() const override { return {}; }
  neap::shell::TimerId at(neap::Instant, neap::shell::Action) override { return 0; }
  void cancel(neap::shell::TimerId) override {}
  void post(neap::shell::Action action) override { action(); }
};

}  // namespace

int main(int argc, char** argv) {
  if (argc != 2) {
    std::fprintf(stderr, "usage: neap-outputs-safe STATE_DIR\n");
    return 2;
  }
  auto manifest = neap::shell::load_manifest(argv[1]);
  if (!manifest) {
    std::fprintf(stderr, "neap-outputs-safe: no output manifest in %s; nothing was driven\n",
                 argv[1]);
    return 4;
  }
  // A simulated output died with its tent. A driver that is not known here stays, as a failure.
  std::erase_if(manifest->rows, [](const neap::shell::ManifestRow& row) {
    const auto* driver = neap::drivers::find_output_driver(row.setup.driver);
    return driver != nullptr && driver->simulated;
  });
  NoTimers timers;
  neap::shell::Strands strands(timers, false);
  neap::shell::Gate gate(timers, strands, [](LogLevel, const std::string& text) {
    std::fprintf(stderr, "neap-outputs-safe: %s\n", text.c_str());
  });
  neap::drivers::Context context;
  gate.open(*manifest, context);
  return gate.proven() ? 0 : 1;
}
