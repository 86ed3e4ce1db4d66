#include "daemon/client/draft.h"

#include <algorithm>
#include <cmath>
#include <optional>

#include "daemon/client/parse.h"
#include "daemon/settings/checks.h"
#include "daemon/settings/quantity.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using settings::Kind;

bool fitted(const std::vector<std::string>& parts, std::string_view word) {
  return std::find(parts.begin(), parts.end(), word) != parts.end();
}
bool has(const DraftAnswers& answers, std::string_view word) {
  return fitted(answers.outputs, word) || fitted(answers.sensors, word);
}

std::string trimmed(std::string_view text) {
  const std::size_t begin = text.find_first_not_of(' ');
  if (begin == std::string_view::npos) return {};
  return std::string(text.substr(begin, text.find_last_not_of(' ') - begin + 1));
}

std::vector<std::string> split(std::string_view text, std::string_view separators) {
  std::vector<std::string> parts;
  for (std::size_t at = 0; at <= text.size();) {
    const std::size_t end = std::min(text.find_first_of(separators, at), text.size());
    if (const std::string part = trimmed(text.substr(at, end - at)); !part.empty())
      parts.push_back(part);
    at = end + 1;
  }
  return parts;
}

struct Pair {
  std::string first, second;
};
std::optional<Pair> pair_of(std::string_view text) {
  const auto parts = split(text, ",");
  if (parts.size() != 2) return std::nullopt;
  return Pair{parts[0], parts[1]};
}

// A quantity within bounds, as the settings will judge it; a complaint else.
std::string judge(const std::string& typed, Kind kind, double lowest, double highest,
                  double* value = nullptr) {
  const auto read = settings::read_quantity("it", typed, settings::info(kind).units,
                                            settings::info(kind).example);
  if (const auto* bad = std::get_if<settings::Complaint>(&read))
    return bad->message + "; " + bad->remedy;
  const double found = std::get<double>(read);
  if (value != nullptr) *value = found;
  if (found >= lowest && found <= highest) return {};
  return "it is " + typed + "; must be " + settings::format(kind, lowest) + " to " +
         settings::format(kind, highest);
}

std::string complain_of_name(const std::string& typed, const DraftAnswers&) {
  const bool plain = std::all_of(typed.begin(), typed.end(), [](unsigned char c) {
    return std::isalnum(c) != 0 || c == ' ' || c == '-' || c == '_';
  });
  return plain && typed.size() <= 64 ? "" : "letters, digits, blanks, - and _, 64 at most";
}

std::string complain_of_zone(const std::string& typed, const DraftAnswers&) {
  return typed.size() <= 64 && settings::is_time_zone(typed)
             ? ""
             : "a name of the zone database, as Europe/Brussels";
}

// "100 x 100 x 190 cm", in cubic metres.
std::optional<double> space_of(const std::string& typed) {
  auto words = split(typed, "x ");
  if (words.size() != 4 || (words[3] != "cm" && words[3] != "m" && words[3] != "in"))
    return std::nullopt;
  double product = 1;
  for (std::size_t i = 0; i < 3; ++i) {
    const auto number = settings::read_decimal(words[i]);
    if (!std::holds_alternative<double>(number)) return std::nullopt;
    product *= std::get<double>(number) * (words[3] == "cm" ? 0.01 : words[3] == "in" ? 0.0254 : 1);
  }
  return product;
}

std::string complain_of_size(const std::string& typed, const DraftAnswers&) {
  const auto space = space_of(typed);
  if (!space) return "write length x width x height and their unit, such as 100 x 100 x 190 cm";
  return *space >= 0.1 && *space <= 50
             ? ""
             : "that is " + settings::format_number(*space) + " m3; must be 0.1 to 50 m3";
}

std::string complain_of_light(const std::string& typed, const DraftAnswers&) {
  const std::size_t blank = typed.find(' ');
  const std::string rule = "write lights-on and length, such as 07:00 14 h";
  if (blank != 5 || typed[2] != ':') return rule;
  const std::string clock = typed.substr(0, 5);
  for (const std::size_t i : {0U, 1U, 3U, 4U})
    if (clock[i] < '0' || clock[i] > '9') return rule;
  if (clock.substr(0, 2) > "23" || clock.substr(3) > "59")
    return clock + " is no time of day; " + rule;
  return judge(trimmed(typed.substr(blank)), Kind::duration, 8 * 3600, 20 * 3600);
}

// Two volumes of which the first is less.
std::string complain_of_volumes(const std::string& typed, double most, bool first_is_less,
                                const char* example) {
  const auto pair = pair_of(typed);
  if (!pair) return std::string("write two volumes and a comma, such as ") + example;
  double first = 0;
  double second = 0;
  std::string wrong = judge(pair->first, Kind::volume, 1, most, &first);
  if (wrong.empty())
    wrong = judge(pair->second, Kind::volume, first_is_less ? 1 : 0, most, &second);
  if (!wrong.empty()) return wrong;
  if (first_is_less ? first <= second : first > second) return {};
  return first_is_less ? "the first, to the standpipe's rim, must be at most the second"
                       : "the second, which stays in it, must be less than the first";
}

std::string complain_of_tray(const std::string& typed, const DraftAnswers&) {
  return complain_of_volumes(typed, 500, true, "25 L, 45 L");
}

double litres(const std::string& typed) {
  double value = 0;
  judge(typed, Kind::volume, 0, 1000, &value);
  return value;
}

std::string complain_of_reservoir(const std::string& typed, const DraftAnswers& before) {
  const std::string wrong = complain_of_volumes(typed, 1000, false, "60 L, 8 L");
  if (!wrong.empty()) return wrong;
  const Pair pair = pair_of(typed).value_or(Pair{});
  const double flood = litres(pair_of(before.tray).value_or(Pair{}).first);
  if (litres(pair.first) >= litres(pair.second) + flood) return {};
  return "a flood of " + settings::format(Kind::volume, flood) +
         " would take what must stay in it: fit a larger reservoir, or let less stay";
}

// A fill must fit under the ceiling of half an hour, with room to spare.
std::string complain_of_flow(const std::string& typed, const DraftAnswers& before) {
  double flow = 0;
  const std::string wrong = judge(typed, Kind::flow, 30, 10000, &flow);
  if (!wrong.empty()) return wrong;
  const double minutes = litres(pair_of(before.tray).value_or(Pair{}).first) / flow * 60;
  return minutes <= 12
             ? ""
             : "it would fill the tray in " + settings::format_number(std::round(minutes)) +
                   " min; a pump of that size takes too long, 12 min at most";
}

std::string complain_of_path(const std::string& typed, const DraftAnswers&) {
  const std::vector<std::string_view> words{"through_pump", "weep_hole", "drain_valve"};
  if (std::find(words.begin(), words.end(), typed) != words.end()) return {};
  return "\"" + words::printable(typed) + "\" is none of them; " + suggestion(typed, words);
}

std::string complain_of_parts(const std::string& typed, bool outputs) {
  if (typed == "none") return {};
  std::vector<std::string_view> known;
  for (const DraftPart& part : kDraftParts)
    if (part.is_output == outputs) known.push_back(part.word);
  for (const std::string& word : split(typed, ", "))
    if (std::find(known.begin(), known.end(), word) == known.end())
      return "\"" + words::printable(word) + "\" is none of them; " + suggestion(word, known);
  return {};
}

std::string complain_of_outputs(const std::string& typed, const DraftAnswers& before) {
  const std::string wrong = complain_of_parts(typed, true);
  if (!wrong.empty()) return wrong;
  const auto parts = split(typed, ", ");
  const bool valve = fitted(parts, "drain-valve");
  if (valve != (before.drain_path == "drain_valve"))
    return valve ? "a drain-valve goes with the drain path drain_valve alone"
                 : "the drain path is drain_valve: name the drain-valve too";
  if (fitted(parts, "second-contact") && !fitted(parts, "pump"))
    return "a second-contact is the pump's: name the pump too";
  return {};
}

// What a heater or chiller must not do without, likewise.
std::string lacks_for_water(const std::vector<std::string>& sensors, const DraftAnswers& before) {
  if (!tempers_water(before.outputs)) return {};
  if (!fitted(sensors, "water-temperature"))
    return "a water-heater or water-chiller goes by the water's temperature: add water-temperature";
  if (!fitted(sensors, "reservoir-float") && !fitted(sensors, "level"))
    return "out of water a heater burns what it touches: add reservoir-float or level";
  if (!fitted(sensors, "leak")) return "mains and spilled water do not go together: add leak";
  return {};
}

// What a pump must not do without, by the rules of the loader.
std::string complain_of_sensors(const std::string& typed, const DraftAnswers& before) {
  const std::string wrong = complain_of_parts(typed, false);
  if (!wrong.empty()) return wrong;
  const auto parts = split(typed, ", ");
  if ((has(before, "dehumidifier") || has(before, "humidifier")) && !fitted(parts, "canopy"))
    return "a dehumidifier or humidifier needs the sensor canopy";
  if (const std::string lacks = lacks_for_water(parts, before); !lacks.empty()) return lacks;
  if (!has(before, "pump")) return {};
  if (!fitted(parts, "leak")) return "neap runs no pump without a leak probe: add leak";
  if (!fitted(parts, "tray-float")) return "neap fills no tray without its float: add tray-float";
  if (!fitted(parts, "reservoir-float") && !fitted(parts, "level"))
    return "a pump that runs dry burns out: add reservoir-float or level";
  if (has(before, "second-contact") && !fitted(parts, "pump-proof"))
    return "with a second contact both weld unseen without the pump's proof: add pump-proof";
  return {};
}

using Complain = std::string (*)(const std::string&, const DraftAnswers&);
constexpr std::array<Complain, 10> kComplaints{
    complain_of_name,    complain_of_zone,      complain_of_size, complain_of_light,
    complain_of_tray,    complain_of_reservoir, complain_of_flow, complain_of_path,
    complain_of_outputs, complain_of_sensors};

}  // namespace

const std::array<DraftQuestion, 10> kDraftQuestions{{
    {"What do you call this tent?", &DraftAnswers::name},
    {"Which time zone is it in, as in Europe/Brussels?", &DraftAnswers::time_zone},
    {"Length x width x height of the tent?", &DraftAnswers::size},
    {"When does the light come on, and for how long?", &DraftAnswers::light},
    {"Water in the tray, medium in place: to the standpipe's rim, to the tray's rim?",
     &DraftAnswers::tray},
    {"Water in the reservoir: to its brim, and how much must stay so that the pump keeps under "
     "water?",
     &DraftAnswers::reservoir},
    {"What does the pump move at the tray's height, by a bucket and a watch?",
     &DraftAnswers::pump_flow},
    {"How does the tray empty: through_pump, weep_hole or drain_valve?", &DraftAnswers::drain_path},
    {"What can be switched?", nullptr, &DraftAnswers::outputs},
    {"What is measured?", nullptr, &DraftAnswers::sensors},
}};

std::string draft_complaint(std::size_t number, const std::string& typed,
                            const DraftAnswers& before) {
  return kComplaints[number](typed, before);
}

void take_draft_answer(std::size_t number, const std::string& typed, DraftAnswers& answers) {
  const DraftQuestion& question = kDraftQuestions[number];
  if (question.answer != nullptr)
    answers.*question.answer = typed;
  else if (typed == "none")
    (answers.*question.words).clear();
  else
    answers.*question.words = split(typed, ", ");
}

namespace {

// Which part each protection takes; empty: every neap has it. The words are README's.
struct ProtectionRow {
  Protection told;
  std::string_view part;
  bool of_water;  // only where a pump is fitted
};
constexpr std::array kProtections{
    ProtectionRow{{"a probe on the floor gets wet",
                   "pump off in the scan that sees it, latched until you reset it", ""},
                  "leak",
                  true},
    ProtectionRow{{"hose off, reservoir falls and the tray does not", "pump off, latch lost-water",
                   "the fill limit alone stops the pump; a level sensor (level) sees it sooner"},
                  "level",
                  true},
    ProtectionRow{{"drain blocked, standpipe blocked", "the high float trips before the rim",
                   "nothing sees the tray rise to its rim; fit a second float over the standpipe "
                   "(overflow-float)"},
                  "overflow-float",
                  true},
    ProtectionRow{{"a float sticks",
                   "the level contradicts it, and the fill limit stops in any "
                   "case",
                   "the fill limit alone; a level sensor (level) contradicts it"},
                  "level",
                  true},
    ProtectionRow{
        {"the pump's contact welds", "told within seconds",
         "not seen until water is where it should not be; fit a current, pressure or flow "
         "switch (pump-proof)"},
        "pump-proof",
        true},
    ProtectionRow{
        {"a welded contact must still be opened", "the second contact stops the pump within 4 s",
         "only a plug within reach; fit a second relay in series (second-contact)"},
        "second-contact",
        true},
    ProtectionRow{{"a slow leak of the reservoir", "told in litres a day",
                   "not told; a level sensor (level) does"},
                  "level",
                  true},
    ProtectionRow{{"power cut, crash, kill", "pump off at the start; the flood is not resumed", ""},
                  "pump",
                  true},
    ProtectionRow{{"the air pump stands", "alarm in a minute, with the hours of oxygen left",
                   "not seen; fit a pressure or current switch (air-pump-proof)"},
                  "air-pump-proof",
                  false},
    ProtectionRow{{"the reservoir runs low while its heater is on",
                   "heater and chiller off in the scan that sees it", ""},
                  "water-temperature",
                  false},
    ProtectionRow{
        {"a sensor dies, freezes or goes wild", "it is not believed; fall-back levels", ""},
        "canopy",
        false},
    ProtectionRow{{"a canopy probe drifts", "two probes apart are told",
                   "its drift is not seen; fit a second one (canopy-b)"},
                  "canopy-b",
                  false},
    ProtectionRow{{"a band out of reach", "told before it is missed, with what would cure it",
                   "not foreseen; a sensor in the room (room) lets neap look ahead"},
                  "room",
                  false},
};

}  // namespace

Protections protections_of(const DraftAnswers& answers) {
  Protections found;
  for (const ProtectionRow& row : kProtections) {
    if (row.of_water && !has(answers, "pump")) continue;
    if (row.part == "air-pump-proof" && !has(answers, "air-pump")) continue;
    if (row.part == "water-temperature" && !tempers_water(answers.outputs)) continue;
    if (has(answers, row.part))
      found.have.push_back(&row.told);
    else if (!row.told.without.empty())
      found.lack.push_back(&row.told);
  }
  return found;
}

bool tempers_water(const std::vector<std::string>& outputs) {
  return fitted(outputs, "water-heater") || fitted(outputs, "water-chiller");
}

const DraftPart* find_draft_part(std::string_view word) {
  for (const DraftPart& part : kDraftParts)
    if (part.word == word) return &part;
  return nullptr;
}

}  // namespace neap::client
