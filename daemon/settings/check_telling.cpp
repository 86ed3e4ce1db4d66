// What hooks may not share.
#include <set>

#include "daemon/settings/checks.h"
#include "daemon/settings/quantity.h"

namespace neap::settings {
namespace {

void check_names(const Telling& telling, const Draft& draft, Report& report) {
  std::set<std::string> seen;
  for (std::size_t i = 0; i < telling.hooks.size(); ++i) {
    const std::string& name = telling.hooks[i].name;
    if (name.empty() || seen.insert(name).second) continue;
    const std::string path = "telling.hooks[" + std::to_string(i + 1) + "].name";
    report.add(draft.place_of(path), path,
               "name is " + name + ", and so is that of a hook before it; each must differ",
               "write another name: what waits for a hook is kept under it");
  }
}

void check_quiet(const Telling& telling, const Draft& draft, Report& report) {
  if (!telling.quiet.fitted || !draft.is_sound("telling.quiet.from") ||
      !draft.is_sound("telling.quiet.to") || telling.quiet.from_s != telling.quiet.to_s)
    return;
  report.add(draft.place_of("telling.quiet.to"), "telling.quiet.to",
             "quiet hours end when they begin; they must have a length",
             "delete the group \"quiet\" if nothing is to wait");
}

void check_metrics(const Telling& telling, const Draft& draft, Report& report) {
  if (!telling.metrics ||
      (telling.metrics->starts_with('/') && telling.metrics->ends_with(".prom")))
    return;
  report.add(
      draft.place_of("telling.metrics"), "telling.metrics",
      "metrics is " + shown(*telling.metrics) + "; must be an absolute path that ends in .prom",
      "write for example \"metrics: /var/lib/prometheus/node-exporter/neap.prom\"; the "
      "exporter passes over other names");
}

}  // namespace

void check_telling(const Draft& draft, Report& report) {
  if (!draft.telling) return;
  check_names(*draft.telling, draft, report);
  check_quiet(*draft.telling, draft, report);
  check_metrics(*draft.telling, draft, report);
}

}  // namespace neap::settings
