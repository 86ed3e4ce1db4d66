// identify: what the journal says of the tent, what that would change in the settings, and what
// would sharpen it. Needs no daemon.
#include "daemon/identify/identify.h"

#include <algorithm>

#include "daemon/client/failure.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/records_json.h"
#include "daemon/client/tent_record.h"
#include "daemon/client/verbs.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using identify::Finding;
using identify::Findings;
using identify::Lack;
using identify::Property;
using nlohmann::json;
using Side = Table::Side;

constexpr std::int64_t kLongest = Millis{hours{24 * 14}}.count();  // the canopy grows meanwhile
constexpr double kClogged = 0.8;                                   // of the settings' flow

struct Told {
  journal::Stamp from, to;
  Findings findings;
  std::vector<identify::Proposal> proposals;
  bool compared = false;  // the humidity probes
};

neap::Beliefs beliefs_of(const Plan& plan) {
  const ClimatePlan& climate = plan.climate;
  return {climate.tent_m3,
          climate.fan_m3_per_h,
          climate.dehumidifier_g_per_h,
          climate.humidifier_g_per_h,
          climate.dehumidifier_place,
          climate.dehumidifier_kind};
}

// An offset in the settings is the trace of a comparison.
bool has_offset(const Plan& plan) {
  for (const Point point : {Point::canopy_humidity, Point::room_humidity})
    if (plan.points[point] && plan.points[point]->offset != 0) return true;
  return false;
}

Told look_at(const Session& session, journal::Reader& reader) {
  const Plan plan = plan_in_force(session, reader);
  const std::int64_t last = last_tick(reader);
  const std::string& from_text = session.args.from;
  const std::string& to_text = session.args.to;
  const std::int64_t to =
      to_text.empty() ? last : std::min(last, moment_tick(reader, "--to", to_text));
  const std::int64_t from =
      std::max(reader.first_tick().value_or(to),
               moment_tick(reader, "--from", from_text.empty() ? "7d" : from_text));
  if (from >= to)
    throw Failure(kExitRefused, "the journal has nothing in that time",
                  "ask for a time before " + stamp_text(reader.stamp(last)));
  if (to - from > kLongest)
    throw Failure(kExitRefused, "that is more than 14 days, over which plants grow",
                  "give --from and --to that are at most 14 days apart");
  Told told;
  told.from = reader.stamp(from);
  told.to = reader.stamp(to);
  told.compared = session.args.probes_agree || has_offset(plan);
  const identify::Beliefs beliefs{beliefs_of(plan), told.compared};
  told.findings = identify::identify(tent_record(reader, plan, from, to), beliefs,
                                     {plan.outputs[Output::dehumidifier].has_value(),
                                      plan.outputs[Output::humidifier].has_value()});
  told.proposals = identify::proposals(told.findings, beliefs);
  return told;
}

json told_json(const Told& told) {
  json found = json::object();
  for (std::size_t i = 0; i < identify::kProperties; ++i) {
    const auto property = static_cast<Property>(i);
    const auto& row = identify::info(property);
    const Finding& finding = told.findings[property];
    json& item = found[std::string(row.key)];
    if (finding.lack == Lack::nothing)
      item = {{"value", finding.value},
              {"low", finding.low},
              {"high", finding.high},
              {"unit", row.unit}};
    else
      item = {{"value", nullptr},
              {"lack", identify::text(finding.lack)},
              {"experiment", row.experiment}};
  }
  json list = json::array();
  for (const auto& row : told.proposals)
    list.push_back({{"group", row.group},
                    {"key", row.key},
                    {"unit", row.unit},
                    {"believed", row.believed},
                    {"found", row.found.value},
                    {"differs", row.differs}});
  return {{"from", stamp_json(told.from)},
          {"to", stamp_json(told.to)},
          {"hours", told.findings.hours},
          {"floods_weighed", told.findings.floods_weighed},
          {"step_tests",
           {{"fan", told.findings.fan_tests}, {"dehumidifier", told.findings.drying_tests}}},
          {"probes_compared", told.compared},
          {"found", found},
          {"proposals", list}};
}

std::string table_of(const Told& told, const Look& look) {
  Table table({Side::left, Side::right, Side::left});
  table.head({"of the tent", "found", "90 % sure, or what is missing"});
  for (std::size_t i = 0; i < identify::kProperties; ++i) {
    const auto property = static_cast<Property>(i);
    const auto& row = identify::info(property);
    const Finding& f = told.findings[property];
    if (f.lack == Lack::not_fitted) continue;
    if (f.lack == Lack::nothing)
      table.add(
          {row.title, words::decimals(f.value, row.digits) + " " + std::string(row.unit),
           words::decimals(f.low, row.digits) + " to " + words::decimals(f.high, row.digits)});
    else
      table.add({row.title, "-", Cell{std::string(identify::text(f.lack)), Tone::quiet}});
  }
  return table.text(look, kPageWidth);
}

std::string proposals_of(const Told& told) {
  std::string text, group;
  for (const auto& row : told.proposals) {
    if (!row.differs) continue;
    if (text.empty())
      text = "\nThe settings say otherwise. If you believe the journal, write and apply:\n";
    if (group != row.group) text += std::string(row.group) + ":\n";
    group = row.group;
    text += "  " + std::string(row.key) + ": " + words::decimals(row.found.value, row.digits) +
            " " + std::string(row.unit) + "  # was " + words::decimals(row.believed, row.digits) +
            "\n";
  }
  if (text.empty() && !told.proposals.empty()) text = "\nThe settings agree with what was found.\n";
  return text;
}

// Less air than there was is dirt or a loose duct before it is a wrong label.
std::string maintenance_of(const Told& told) {
  for (const auto& row : told.proposals) {
    if (row.key != "exhaust_flow" || !row.differs) continue;
    if (row.found.value > kClogged * row.believed) continue;
    return "\n" +
           wrapped("The exhaust moves " +
                       words::decimals(100 * (1 - row.found.value / row.believed), 0) +
                       " % less air than the settings say: look for a clogged filter, a crushed or "
                       "a loose duct before you change them.",
                   kPageWidth) +
           "\n";
  }
  return {};
}

std::string advice_of(const Told& told) {
  std::string text;
  if (!told.compared)
    text += "\n" +
            wrapped(
                "The two humidity probes were never compared: two per cent between them make "
                "the exhaust flow wrong by a third. Lay them side by side for half an hour, "
                "set their offsets so that they agree, or say --probes-agree if they do.",
                kPageWidth) +
            "\n";
  Table table({Side::left, Side::left});
  table.head({"would sharpen", "by"});
  for (std::size_t i = 0; i < identify::kProperties; ++i) {
    const auto property = static_cast<Property>(i);
    if (identify::would_sharpen(told.findings, property))
      table.add({identify::info(property).title, identify::info(property).experiment});
  }
  if (!table.empty()) text += "\n" + table.text(Look{}, kPageWidth);
  return text;
}

std::string tests_of(const Findings& f) {
  if (f.fan_tests + f.drying_tests == 0) return {};
  return " Step tests weighed: " + std::to_string(f.fan_tests) + " of the fan, " +
         std::to_string(f.drying_tests) + " of the dehumidifier.";
}

std::string told_text(const Told& told, const Look& look) {
  const Findings& f = told.findings;
  std::string text =
      wrapped("From " + stamp_text(told.from) + " to " + stamp_text(told.to) +
                  ": the reservoir was weighed " + std::to_string(f.floods_weighed) +
                  " times from one flood to the next; the fan ran at " +
                  words::decimals(100 * f.mean_fan, 0) + " % on average." + tests_of(f),
              kPageWidth) +
      "\n\n";
  if (f[Property::exhaust_flow].lack == Lack::too_short) {
    text += wrapped("Not enough data: " + words::decimals(f.hours, 1) +
                        " h, and a day is the least. Three days with floods are good.",
                    kPageWidth) +
            "\n";
    return text;
  }
  return text + table_of(told, look) + proposals_of(told) + maintenance_of(told) + advice_of(told);
}

}  // namespace

int do_identify(Session& session) {
  const auto reader = open_journal(session.globals.journal);
  const Told told = look_at(session, *reader);
  warn_of_trouble(session, *reader);
  session.show(told_json(told), told_text(told, session.look));
  return kExitDone;
}

}  // namespace neap::client
