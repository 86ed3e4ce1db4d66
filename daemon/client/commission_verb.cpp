// The verb `commission`.
#include <algorithm>
#include <array>
#include <cstdio>

#include "daemon/client/commission.h"
#include "daemon/client/failure.h"
#include "daemon/client/interrupt.h"
#include "daemon/client/verbs.h"
#include "daemon/settings/build.h"
#include "daemon/settings/settings.h"

namespace neap::client {
namespace {

double seconds_in(Millis d) { return static_cast<double>(d.count()) / 1000; }

// The newest flood of the journal, when it is complete and began after `from`.
std::optional<CommissionFigures> last_flood(const Session& session, std::int64_t from_unix_ms) {
  const auto reader = open_journal(session.globals.journal);
  const auto cycles = reader->cycles({});
  if (cycles.empty()) return std::nullopt;
  const journal::CycleEntry& newest = cycles.back();
  if (newest.row.outcome != FloodOutcome::complete) return std::nullopt;
  if (newest.started.unix_ms && *newest.started.unix_ms < from_unix_ms) return std::nullopt;
  CommissionFigures found;
  found.fill_s = seconds_in(newest.row.fill);
  found.drain_s = seconds_in(newest.row.drain);
  if (newest.row.litres_known) found.litres = newest.row.litres_out;
  return found;
}

std::string result_text(const Commissioned& done, const Look& look) {
  Table table({Table::Side::left, Table::Side::left, Table::Side::left});
  for (const Finding& one : done.findings)
    table.add({one.part,
               one.passed ? Cell("passed", Tone::good) : Cell("not passed", Tone::warning),
               one.remark});
  std::string text = "\n" + table.text(look, kPageWidth);
  if (!done.settings.empty()) {
    text += "Worth writing into the settings, then `neap apply`:\n";
    for (const std::string& line : done.settings) text += "  " + line + "\n";
  }
  return text + "The journal has the date of what was passed; `neap events --kind proof_test`.\n";
}

// "1500 mV = 7 L", as the loader has accepted it; none of another form.
std::optional<TankPair> tank_pair(const std::string& word, std::string& unit) {
  TankPair pair;
  std::array<char, 16> of{};
  if (std::sscanf(word.c_str(), "%lf %15s = %lf L", &pair.reading, of.data(), &pair.litres) != 3)
    return std::nullopt;
  unit = of.data();
  return pair;
}

std::optional<Tank> tank_of(const settings::Loaded& loaded) {
  const auto& point = loaded.plan.points[Point::reservoir_level];
  for (const drivers::SensorSetup& sensor : loaded.hardware.sensors) {
    if (sensor.driver != "analog_level") continue;
    Tank tank{sensor.name, {}, {}, point ? point->offset : 0};
    for (const std::string& word : sensor.params.words("curve"))
      if (const auto pair = tank_pair(word, tank.unit)) tank.table.push_back(*pair);
    std::sort(tank.table.begin(), tank.table.end(),
              [](const TankPair& a, const TankPair& b) { return a.reading < b.reading; });
    if (tank.table.size() >= 2) return tank;
  }
  return std::nullopt;
}

// From the journal: the settings that neapd runs on, whatever the file says by now.
AtTheTent at_the_tent(const Session& session) {
  AtTheTent tent;
  tent.last_flood = [&session] { return last_flood(session, session.around.now_unix_ms()); };
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader) return tent;
  const auto in_force = settings::load_text(reader->settings_in_force());
  if (!in_force.loaded) return tent;
  tent.build_flow_l_per_h = settings::expected_flow_l_per_h(in_force.loaded->build);
  tent.tank = tank_of(*in_force.loaded);
  for (const drivers::OutputSetup& setup : in_force.loaded->hardware.outputs)
    if (setup.enable_pulse) tent.enable_pulse = setup.enable_pulse->text("line");
  return tent;
}

}  // namespace

int do_commission(Session& session) {
  std::ostream& prompts = session.globals.json ? session.around.err : session.out();
  Questions questions(session.around.in, prompts, !session.around.in_is_terminal,
                      "begin again; what was passed is kept");
  const Interrupt interrupt;
  questions.end_when(Interrupt::came);
  const AskDaemon ask = [&](std::string_view verb, const nlohmann::json& args) {
    return session.ask(verb, args);
  };
  const AtTheTent tent = at_the_tent(session);
  Commissioned done;
  try {
    done = commission(questions, ask, tent, session.args.words);
  } catch (const CommissionEnded& ended) {
    session.show(commissioned_json(ended.so_far), result_text(ended.so_far, session.look));
    throw;
  }
  session.show(commissioned_json(done), result_text(done, session.look));
  for (const Finding& one : done.findings)
    if (!one.passed) return kExitRefused;
  return kExitDone;
}

}  // namespace neap::client
