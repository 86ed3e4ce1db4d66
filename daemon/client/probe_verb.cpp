// The verb `probe`.
#include <sys/timex.h>
#include <unistd.h>

#include <filesystem>

#include "daemon/client/failure.h"
#include "daemon/client/probe.h"
#include "daemon/client/verbs.h"

namespace neap::client {
namespace {

// Asks nothing to change; the kernel answers TIME_ERROR while nobody disciplines its clock.
std::optional<bool> kernel_clock_synchronised() {
  timex asked{};
  const int state = ::adjtimex(&asked);
  if (state < 0) return std::nullopt;
  return state != TIME_ERROR && (asked.status & STA_UNSYNC) == 0;
}

// Settings that were named must be good; those in force may be absent on a board that is being set
// up.
std::optional<settings::Loaded> settings_of(const Session& session) {
  if (!session.args.words.empty()) return load_or_fail(session.args.words.front());
  std::error_code none;
  if (!std::filesystem::exists(session.globals.settings, none)) return std::nullopt;
  return load_or_fail(session.globals.settings);
}

}  // namespace

int do_probe(Session& session) {
  if (session.args.words.size() > 1)
    throw Failure(kExitUsage, "more than one FILE", "name one settings file");
  const std::string root = session.args.root.empty() ? "/" : session.args.root;
  if (!std::filesystem::is_directory(root))
    throw Failure(kExitUsage, "--root is " + root + ", which is no folder",
                  "name the folder that holds dev, proc and sys");
  const auto loaded = settings_of(session);
  const drivers::Survey survey = drivers::survey(root, drivers::read_gpio_chip);
  Asker asker;
  if (root == "/") {
    asker.root = ::geteuid() == 0;
    asker.clock_synchronised = kernel_clock_synchronised();
  }
  asker.user = session.around.variable("USER").value_or("");
  const auto exists = [&](const std::string& path) {
    std::error_code none;
    const std::filesystem::path below = path.starts_with('/') ? root + path : root + "/sys/" + path;
    return std::filesystem::exists(below, none);
  };
  std::vector<Advice> advice = advise(survey, asker);
  if (loaded)
    for (Advice& one : advise_rest(*loaded)) advice.push_back(std::move(one));
  const std::vector<NamedPart> parts =
      loaded ? look_for(survey, *loaded, exists) : std::vector<NamedPart>{};
  session.show(probe_json(survey, advice, parts),
               render_probe(survey, advice, parts, session.look));
  for (const NamedPart& part : parts)
    if (!part.present) return kExitRefused;
  return kExitDone;
}

}  // namespace neap::client
