// `neap calibrate`: what a probe shows in standards, told to the daemon; alone, what is in force
// and what came before.
#include <charconv>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/questions.h"
#include "daemon/client/records_json.h"
#include "daemon/client/verbs.h"
#include "daemon/solution/conductivity.h"
#include "daemon/solution/ph.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr const char* kPhExample = "neap calibrate ph 7=6.91 4=4.05 temperature=21";
constexpr const char* kEcExample = "neap calibrate ec 1413=1.38 temperature=21";
constexpr double kTellThird = 0.05;  // pH; a vendor's note, see daemon/solution/ph.h

const ProbeInfo& probe_named(const std::string& word) {
  std::vector<std::string_view> names;
  for (const ProbeInfo& row : kProbes) {
    if (row.name == word) return row;
    names.push_back(row.name);
  }
  throw Failure(kExitUsage,
                "PROBE is \"" + words::printable(word) + "\", and there is none of that name",
                suggestion(word, names));
}

// STANDARD=SHOWN words and temperature=, as the verb takes them.
json shown_of(const std::vector<std::string>& words, json& args) {
  json list = json::array();
  for (std::size_t i = 1; i < words.size(); ++i) {
    const std::string& word = words[i];
    const std::size_t equals = word.find('=');
    if (equals == std::string::npos)
      throw Failure(kExitUsage, "\"" + words::printable(word) + "\" is no STANDARD=SHOWN",
                    "write what the bottle says and what the probe shows, such as 7=6.91");
    const std::string name = word.substr(0, equals);
    const std::string value = word.substr(equals + 1);
    if (name == "temperature" || name == "water") {
      args["temperature_c"] = parse_number("temperature", value, 0, 50);
      continue;
    }
    list.push_back({{"standard", parse_number("the standard", name, 0, 200000)},
                    {"value", parse_number("what the probe shows", value, -10, 100000)}});
  }
  return list;
}

std::string result_text(const ProbeInfo& probe, const json& result, bool warm_said) {
  std::string text;
  if (probe.probe == SolutionProbe::ph) {
    text = "The pH probe is calibrated: slope " +
           words::decimals(result.value("slope_pct", 0.0), 1) + " % of the ideal one, " +
           words::decimals(result.value("offset_mv", 0.0), 1) + " mV at pH 7.\n";
    if (const auto third = result.find("third_off"); third != result.end() && third->is_number()) {
      const double off = third->get<double>();
      text += "  The third buffer reads " + words::decimals(off, 2) + " pH off" +
              (off > kTellThird || off < -kTellThird
                   ? ": over 0.05, so one buffer may be old or the probe is ageing.\n"
                   : ", as it should.\n");
    }
    if (result.value("tired", false))
      text += "  It is near the end of its life: have a new one at hand.\n";
  } else {
    text = "The EC probe is calibrated: cell factor " +
           words::decimals(result.value("gain", 0.0), 3) + ", " +
           words::decimals(result.value("zero_ms_per_cm", 0.0), 3) + " mS/cm when dry.\n";
  }
  if (!warm_said) text += "  The standards were taken to be at 25 C; say temperature= if not.\n";
  return text;
}

// What brings an EC probe to 25 C; or what it is off by while nothing does.
std::string to_25_text(const json& to_25) {
  constexpr double kCold = 20;  // C, to say it by an example
  const double per_kelvin = to_25.value("per_kelvin", 0.0);
  const std::string rate = words::decimals(per_kelvin * 100, 1) + " % a kelvin";
  if (const json warm = to_25.value("celsius", json()); warm.is_number())
    return "  Brought to 25 C by " + rate + ", from " + words::decimals(warm.get<double>(), 1) +
           " C.\n";
  return "  Not brought to 25 C, though " + rate +
         " is set: no thermometer of the solution has spoken. At 20 C it reads " +
         words::decimals(per_kelvin * (25 - kCold) * 100, 0) + " % too low.\n";
}

std::string in_force_text(const json& one) {
  const std::string name = one.value("probe", "") == "ph" ? "pH" : "EC";
  if (!one.value("fitted", false)) return name + " probe: not fitted.\n";
  std::string text = name + " probe: ";
  const json made = one.value("in_force", json());
  if (!made.is_object()) {
    text += one.value("void", false)
                ? "its calibration was of another probe or wiring, and is not in force.\n"
                : "never calibrated.\n";
  } else {
    const double slope = made.value("slope", 1.0);
    text += one.value("probe", "") == "ph"
                ? "slope " + words::decimals(slope * 100, 1) +
                      " % of the ideal one, pH 7 shown as " +
                      words::decimals(made.value("zero", 0.0), 2) + ".\n"
                : "cell factor " + words::decimals(1 / slope, 3) + ", " +
                      words::decimals(made.value("zero", 0.0), 3) + " mS/cm when dry.\n";
  }
  if (const json to_25 = one.value("to_25_c", json()); to_25.is_object()) text += to_25_text(to_25);
  if (const json shown = one.value("shown", json()); shown.is_number())
    text += "  It shows " + words::decimals(shown.get<double>(), 2) + " uncorrected now.\n";
  return text;
}

// What came before, from the journal; an empty text where there is none to read.
std::string history_text(const Session& session, json& out) {
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader) return {};
  Table table({Table::Side::left, Table::Side::left, Table::Side::left, Table::Side::right});
  bool any = false;
  for (const ProbeInfo& row : kProbes)
    for (const journal::CalibrationRow& made : reader->calibrations(row.point)) {
      any = true;
      out.push_back({{"at", stamp_json(made.at)},
                     {"probe", row.name},
                     {"readings", made.readings},
                     {"temperature_c", made.temperature_c},
                     {"zero", made.zero},
                     {"slope", made.slope}});
      table.add({minute_text(made.at), std::string(row.name), words::printable(made.readings),
                 row.probe == SolutionProbe::ph ? words::decimals(made.slope * 100, 1) + " %"
                                                : words::decimals(1 / made.slope, 3)});
    }
  return any ? "\n" + table.text(session.look, kPageWidth) : std::string();
}

int show_calibrations(const Session& session) {
  json result = json::object();
  std::string text;
  try {
    result = session.ask("calibrations", json::object());
    for (const json& one : result.value("calibrations", json::array())) text += in_force_text(one);
  } catch (const Failure& failure) {
    if (failure.code() != kExitNoDaemon) throw;
    text = "No daemon runs: what is in force is not known; this is what was done.\n";
  }
  json history = json::array();
  text += history_text(session, history);
  result["history"] = history;
  session.show(result, text);
  return kExitDone;
}

// What the probe shows uncorrected now; none while it is silent. A Failure where none is fitted.
std::optional<double> shown_now(const Session& session, const ProbeInfo& probe) {
  const json result = session.ask("calibrations", json::object());
  for (const json& one : result.value("calibrations", json::array())) {
    if (one.value("probe", "") != probe.name) continue;
    if (!one.value("fitted", false)) break;
    const json shown = one.value("shown", json());
    return shown.is_number() ? std::optional(shown.get<double>()) : std::nullopt;
  }
  throw Failure(kExitRefused,
                "no " + std::string(info(probe.point).title) +
                    " probe is fitted, so there is "
                    "nothing to calibrate",
                "name its sensor in the settings first");
}

// Empty, or why `typed` is no figure from `lowest` to `highest`.
std::string no_figure(const std::string& typed, double lowest, double highest) {
  try {
    parse_number("it", typed, lowest, highest);
  } catch (const Failure& failure) {
    return std::string(failure.what()) + "; " + failure.remedy();
  }
  return {};
}

// Empty, or why the bottle that `typed` names is none, or was asked about already.
std::string no_bottle(const ProbeInfo& probe, const std::string& typed, const json& list) {
  if (std::string wrong = no_figure(typed, 0, 200000); !wrong.empty()) return wrong;
  const double label = parse_number("it", typed, 0, 200000);
  const bool ph = probe.probe == SolutionProbe::ph;
  if (ph ? !solution::find_buffer(label) : !solution::find_standard(label))
    return ph ? "no buffer is called so: 4, 4.01, 6.86, 7, 9.18 or 10, as the bottle says"
              : "no EC standard is called so: 0 (dry), 1408, 1413 or 12880 uS/cm, as the bottle "
                "says";
  for (const json& one : list)
    if (one["standard"] == label) return "that bottle was told already: take another, or end";
  return {};
}

// Step by step: bottle, wait, what it shows; the temperature last. Nothing reaches the daemon
// before the end, so that it can be left at any question.
json walked(const Session& session, const ProbeInfo& probe, json& args) {
  constexpr std::size_t kMost = 3;
  const bool ph = probe.probe == SolutionProbe::ph;
  std::ostream& prompts = session.globals.json ? session.around.err : session.out();
  Questions questions(session.around.in, prompts, !session.around.in_is_terminal,
                      std::string("nothing was stored; begin again, or write for instance ") +
                          (ph ? kPhExample : kEcExample));
  shown_now(session, probe);
  questions.say(ph ? "Two buffers are needed, 7 first; a third one checks them. An empty line ends "
                     "the list; Ctrl-C leaves, and nothing is stored."
                   : "One standard is needed; two are better. An empty line ends the list; Ctrl-C "
                     "leaves, and nothing is stored.");
  json list = json::array();
  while (list.size() < kMost) {
    const std::string bottle = questions.maybe(
        ph ? "Buffer, as the bottle says:" : "Standard in uS/cm, as the bottle says:",
        [&](const std::string& typed) { return no_bottle(probe, typed, list); });
    if (bottle.empty()) break;
    questions.wait_for_enter(
        "Rinse the probe, hold it in that bottle, and wait until it shows the same for a minute:");
    const auto now = shown_now(session, probe);
    const std::string value = questions.ask(
        "It shows uncorrected", now ? words::decimals(*now, ph ? 2 : 3) : std::string(),
        [&](const std::string& typed) { return no_figure(typed, -10, 100000); });
    list.push_back({{"standard", parse_number("the standard", bottle, 0, 200000)},
                    {"value", parse_number("what the probe shows", value, -10, 100000)}});
  }
  if (list.empty()) return list;
  const std::string warm =
      questions.maybe("Temperature of the bottles in C (empty: 25):",
                      [](const std::string& typed) { return no_figure(typed, 0, 50); });
  if (!warm.empty()) args["temperature_c"] = parse_number("temperature", warm, 0, 50);
  return list;
}

}  // namespace

int do_calibrate(Session& session) {
  const std::vector<std::string>& words = session.args.words;
  if (words.empty()) return show_calibrations(session);
  const ProbeInfo& probe = probe_named(words.front());
  json args = {{"probe", probe.name}};
  args["shown"] = words.size() == 1 ? walked(session, probe, args) : shown_of(words, args);
  if (args["shown"].empty())
    throw Failure(kExitUsage,
                  "what the probe shows in which standard is not said, and nothing was stored",
                  std::string("write for instance ") +
                      (probe.probe == SolutionProbe::ph ? kPhExample : kEcExample));
  const json result = session.ask("calibrate", args);
  session.show(result, result_text(probe, result, args.contains("temperature_c")));
  return kExitDone;
}

}  // namespace neap::client
