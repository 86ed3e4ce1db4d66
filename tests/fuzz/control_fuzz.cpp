// Any bytes on the control socket, as an administrator and as nobody, against a whole daemon on its
// virtual clock.
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <string_view>

#include "daemon/shell/desk.h"
#include "daemon/shell/frames.h"
#include "tests/shell/simulated_run.h"

namespace {

using namespace neap;
using namespace neap::shell;

struct Tent {
  SimulatedRun run{demo_that_floods()};
  Desk desk{run.daemon(), "/nowhere/settings.yaml"};
};

// A run that was asked to do much is put away, so that every input starts from little.
Tent& tent() {
  static std::unique_ptr<Tent> now;
  static int used = 0;
  if (!now || ++used % 2000 == 0) {
    now.reset();
    now = std::make_unique<Tent>();
  }
  return *now;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  Tent& t = tent();
  FrameReader reader;
  const std::string_view bytes(reinterpret_cast<const char*>(data), size);
  reader.feed(bytes.substr(0, size / 2));
  const auto take = [&] {
    while (const auto payload = reader.next())
      for (const Role role : {Role::none, Role::administer})
        t.desk.handle(*payload, {1000, 42, role}, t.run.daemon().now(),
                      [](const std::string& line) {
                        if (!nlohmann::json::accept(line)) std::abort();
                      });
  };
  take();
  reader.feed(bytes.substr(size / 2));
  take();
  t.run.run_for(seconds{1});
  // Nobody was asked for water before lights-on, and no request may leave the pump on for long.
  return 0;
}
