// neap-settings(5): every key of the settings file, from the loader's own tables.
#include "daemon/core/points.h"
#include "daemon/manual/manual.h"
#include "daemon/manual/see_also.h"
#include "daemon/settings/describe.h"
#include "daemon/settings/schema.h"

namespace neap::manual {
namespace {

using settings::Key;
using settings::Kind;
using settings::Section;

// Where a group's keys stand: outputs.NAME.driver.
std::string path_of(const std::string& above, const Key& key) {
  const std::string path =
      above.empty() ? std::string(key.name) : above + "." + std::string(key.name);
  if (key.kind == Kind::section_list) return path + "[]";
  if (key.kind == Kind::section_outputs) return path + ".OUTPUT";
  return key.kind == Kind::section_names ? path + ".NAME" : path;
}

void put_section(Page& page, const Section& section, const std::string& path) {
  page.begin_list();
  for (const Key& key : section.keys) {
    page.term(key.name);
    page.more_text(settings::sentence_of(key));
    if (key.section == nullptr) page.more_text("(" + settings::rule_of(key) + ")");
  }
  page.end_list();
  for (const Key& key : section.keys) {
    if (key.section == nullptr) continue;
    const std::string below = path_of(path, key);
    page.subsection(below);
    put_section(page, *key.section, below);
  }
}

void put_params(Page& page, std::string_view about, std::span<const drivers::ParamSpec> params) {
  page.more_text(about);
  for (const drivers::ParamSpec& param : params)
    page.text("with " + std::string(param.name) + ": " + std::string(param.why) + " (" +
              settings::rule_of(param) + ")");
}

void put_drivers(Page& page) {
  page.section("DRIVERS OF OUTPUTS");
  page.begin_list();
  for (const auto* driver : drivers::output_drivers()) {
    page.term(driver->name);
    put_params(page,
               std::string(driver->about) +
                   (driver->variable ? "; any level." : "; running and stopped alone."),
               driver->params);
  }
  page.end_list();
  page.section("DRIVERS OF SENSORS");
  page.begin_list();
  for (const auto* driver : drivers::sensor_drivers()) {
    page.term(driver->name);
    std::string channels;
    for (const auto& channel : driver->channels)
      channels += (channels.empty() ? "; channels " : ", ") + std::string(channel.name) +
                  (channel.unit.empty() ? std::string() : " in " + std::string(channel.unit));
    put_params(page, std::string(driver->about) + channels + ".", driver->params);
  }
  page.end_list();
  page.section("POINTS");
  page.begin_list();
  for (const auto& point : kPoints) {
    if (point.kind == PointKind::derived) continue;
    page.term(point.name);
    page.more_text(std::string(point.title) +
                   (point.unit.empty() ? std::string() : " in " + std::string(point.unit)));
  }
  page.end_list();
}

}  // namespace

std::string settings_page() {
  Page page("neap-settings", 5, "the settings file of neapd");
  page.section("DESCRIPTION");
  page.text(
      "One YAML file, by default /etc/neap/tent.yaml, says what a tent has and what its "
      "plants get. It is loaded whole or refused whole. Its last line is end: true, so that "
      "a file that was cut short is no file.");
  page.text(
      "neap draft writes a first one from ten questions, neap check looks for problems, neap "
      "apply puts it in force. The folder config of the sources has a reference with every "
      "key, starters, and programmes for some crops.");
  page.text("A quantity is a number and its unit in quotes or not, such as 90 s or 24.5 C:");
  page.bullets(settings::unit_lines());
  page.section("PROBLEMS");
  page.text(
      "Every problem of a file is told at once, in the order of its lines, each with four "
      "things: its place as FILE:LINE:COLUMN, the value that stands there and the rule that "
      "it breaks, the line itself with a mark under the place, and what to write instead. "
      "Rules have no numbers to look up: the message says the rule. With --json each is an "
      "object with line, column, key, message, remedy and text.");
  page.display(
      "tent.yaml:50:5: an output has no key \"quiet_cieling\"\n"
      "    quiet_cieling: 60 %\n"
      "    ^\n"
      "did you mean \"quiet_ceiling\"?");
  page.text(
      "Start with the first: one wrong indent makes others. A number out of its bounds is "
      "never brought back into them, and no value passes the ceilings of the program.");
  page.section("KEYS");
  put_section(page, settings::root_section(), "");
  put_drivers(page);
  put_see_also(page, "neap-settings");
  return page.done();
}

}  // namespace neap::manual
