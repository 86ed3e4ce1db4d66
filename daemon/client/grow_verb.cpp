// `neap grow`: what a person tells of a grow, and what it came to.
#include <algorithm>
#include <array>

#include "daemon/client/diary.h"
#include "daemon/client/failure.h"
#include "daemon/client/grow.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/parse.h"
#include "daemon/client/records_json.h"
#include "daemon/client/spool.h"
#include "daemon/client/turnover.h"
#include "daemon/client/verbs.h"
#include "daemon/client/withdraw.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kLongestName = 40;
constexpr std::array<std::string_view, 3> kQualities{"good", "fair", "poor"};

struct WeightUnit {
  std::string_view name;
  double grams;
};
// A pound is 0.45359237 kg by the international agreement of 1959, an ounce a sixteenth of it.
constexpr std::array kWeights{WeightUnit{"kg", 1000}, WeightUnit{"oz", 28.349523125},
                              WeightUnit{"lb", 453.59237}, WeightUnit{"g", 1}};

[[noreturn]] void usage(const std::string& what, const std::string& remedy) {
  throw Failure(kExitUsage, what, remedy);
}

double parse_weight(const std::string& text) {
  for (const WeightUnit& unit : kWeights) {
    if (!std::string_view(text).ends_with(unit.name)) continue;
    const std::string number = text.substr(0, text.size() - unit.name.size());
    constexpr double kMostGrams = 1'000'000;
    return unit.grams * parse_number("WEIGHT", number, 0.1 / unit.grams, kMostGrams / unit.grams);
  }
  usage("WEIGHT is \"" + words::printable(text) + "\", which is no weight with its unit",
        "write for instance: neap grow harvest 840g good");
}

void check_name(const std::string& name) {
  const bool good = !name.empty() && name.size() <= kLongestName &&
                    std::all_of(name.begin(), name.end(), [](unsigned char c) {
                      return std::isalnum(c) != 0 || c == '-' || c == '_' || c == '.';
                    });
  if (good) return;
  usage("NAME is \"" + words::printable(name) +
            "\"; it must be 1 to 40 letters, digits, hyphens, underscores or dots",
        "write for instance: neap grow start june-basil basil plants=12");
}

std::optional<std::int64_t> moment_of(const Session& session, const Told& told) {
  if (!told.at) return std::nullopt;
  return past_moment(session, *told.at);
}

class GrowVerb {
 public:
  explicit GrowVerb(Session& session)
      : session_(session), diary_(diary_of(session)), grows_(grows_of(diary_)) {}

  int start();
  int note();
  int harvest();
  int end();
  int list();
  int show();
  int compare();
  int withdraw();

 private:
  const std::vector<std::string>& words() const { return session_.args.words; }
  std::size_t width() const { return page_width(session_.args); }
  const Grow& named(const std::string& name) const;
  // What `grow=` says, or the one under way; of what is told late, the last.
  const Grow& meant(const Told& told, bool ended_too) const;
  GrowFigures figures(const Grow& grow) const;
  int tell(const DiaryNote& note, const std::string& done);

  Session& session_;
  std::vector<journal::DiaryRow> diary_;
  std::vector<Grow> grows_;
};

const Grow& GrowVerb::named(const std::string& name) const {
  std::vector<std::string_view> names;
  for (const Grow& grow : grows_) names.push_back(grow.name);
  const auto newest = std::find_if(grows_.rbegin(), grows_.rend(),
                                   [&](const Grow& grow) { return grow.name == name; });
  if (newest != grows_.rend()) return *newest;
  throw Failure(
      kExitRefused, "no grow is called \"" + words::printable(name) + "\"",
      names.empty() ? "begin one with `neap grow start NAME CROP`" : suggestion(name, names));
}

const Grow& GrowVerb::meant(const Told& told, bool ended_too) const {
  if (told.grow) return named(*told.grow);
  if (const Grow* grow = grow_under_way(grows_)) return *grow;
  if (ended_too && !grows_.empty()) return grows_.back();
  throw Failure(kExitRefused, "no grow is under way",
                "begin one with `neap grow start NAME CROP`, or name an ended one: grow=NAME");
}

int GrowVerb::tell(const DiaryNote& note, const std::string& done) {
  json result;
  const bool told = tell_diary(session_, note, result);
  session_.show(result, told ? wrapped(done, width(), 2) + "\n" +
                                   wrapped(take_back_text(result, note.kind), width(), 2) + "\n"
                             : kept_text(result));
  return kExitDone;
}

int GrowVerb::start() {
  if (words().size() < 2)
    usage("NAME is missing", "write for instance: neap grow start june-basil basil plants=12");
  const std::string& name = words()[1];
  check_name(name);
  const Told told = told_of(words(), 2, {"at", "plants"});
  for (const Grow& grow : grows_)
    if (grow.name == name)
      throw Failure(kExitRefused, "there was a grow " + name + " already",
                    "give another name, such as " + name + "-2");
  if (const Grow* grow = grow_under_way(grows_))
    throw Failure(kExitRefused,
                  "grow " + grow->name + " is under way since " + minute_text(grow->from),
                  "end it first: neap grow end");
  if (turnover_of(diary_).under_way)
    throw Failure(kExitRefused, "a turnover is under way, and bleach may be in the reservoir",
                  "finish it first: neap turnover; it lets you leave steps out");
  std::optional<double> plants;
  constexpr int kMostPlants = 10'000;
  if (told.plants) plants = parse_whole("plants", *told.plants, 1, kMostPlants, "plants=12");
  const auto happened = moment_of(session_, told);
  if (happened && !grows_.empty() && *happened < grows_.back().to->unix_ms)
    throw Failure(
        kExitRefused,
        "at is before the end of " + grows_.back().name + ", " + minute_text(*grows_.back().to),
        "one table has one grow at a time; give a later time");
  return tell({"grow_started", name, plants, "", told.words, happened},
              "Grow " + name + " has begun" +
                  (told.words.empty() ? "" : ": " + words::printable(told.words)) +
                  ". `neap stage` enters its stages, and they are recorded with it.");
}

int GrowVerb::note() {
  const Told told = told_of(words(), 1, {"at", "grow"});
  if (told.words.empty()) usage("there are no words", "write: neap grow note first flowers");
  const Grow& grow = meant(told, true);
  return tell({"grow_note", grow.name, {}, "", told.words, moment_of(session_, told)},
              "Noted of " + grow.name + ".");
}

int GrowVerb::harvest() {
  Told told = told_of(words(), 1, {"at", "grow"});
  const std::size_t space = std::min(told.words.find(' '), told.words.size());
  const double grams = parse_weight(told.words.substr(0, space));
  std::string rest = told.words.substr(std::min(space + 1, told.words.size()));
  const std::size_t quality_end = std::min(rest.find(' '), rest.size());
  std::string quality = rest.substr(0, quality_end);
  if (std::find(kQualities.begin(), kQualities.end(), quality) == kQualities.end())
    quality.clear();
  else
    rest = rest.substr(std::min(quality_end + 1, rest.size()));
  const Grow& grow = meant(told, true);
  return tell({"harvest", grow.name, grams, quality, rest, moment_of(session_, told)},
              "Harvest of " + grow.name + " noted; `neap grow show` sums it up.");
}

int GrowVerb::end() {
  const Told told = told_of(words(), 1, {"at", "grow"});
  const Grow& grow = meant(told, false);
  if (grow.to)
    throw Failure(kExitRefused, "grow " + grow.name + " ended on " + minute_text(*grow.to),
                  grow.end_number
                      ? "an end that was told too early is taken back: neap grow withdraw " +
                            std::to_string(*grow.end_number) + " WHY"
                      : "begin the next with `neap grow start NAME CROP`");
  const auto happened = moment_of(session_, told);
  if (happened && *happened <= grow.from.unix_ms)
    throw Failure(kExitRefused, "at is before its start, " + minute_text(grow.from),
                  "give a later time");
  return tell({"grow_ended", grow.name, {}, "", told.words, happened},
              "Grow " + grow.name + " has ended. `neap grow show " + grow.name +
                  "` is its record; `neap turnover` leads through what comes before the next.");
}

int GrowVerb::list() {
  json list = json::array();
  for (const Grow& grow : grows_) list.push_back(grow_json(grow));
  session_.show({{"grows", list}}, render_grows(grows_, session_.look, width()));
  return kExitDone;
}

GrowFigures GrowVerb::figures(const Grow& grow) const {
  const auto reader = open_journal(session_.globals.journal);
  return grow_figures(*reader, plan_in_force(session_, *reader), grow);
}

int GrowVerb::show() {
  Told told = told_of(words(), 1, {"grow"});
  if (!told.words.empty()) told.grow = told.words;
  const GrowFigures shown = figures(meant(told, true));
  session_.show(figures_json(shown), render_grow(shown, session_.look, width()));
  return kExitDone;
}

int GrowVerb::compare() {
  if (words().size() != 3)
    usage("two names are wanted", "write for instance: neap grow compare june-basil may-basil");
  const GrowFigures one = figures(named(words()[1]));
  const GrowFigures other = figures(named(words()[2]));
  session_.show({{"grows", json::array({figures_json(one), figures_json(other)})}},
                render_grows_compared(one, other, session_.look, width()));
  return kExitDone;
}

int GrowVerb::withdraw() { return withdraw_entry(session_, diary_, "grow"); }

struct Action {
  std::string_view name;
  int (GrowVerb::*take)();
};
constexpr std::array kActions{
    Action{"start", &GrowVerb::start},     Action{"note", &GrowVerb::note},
    Action{"harvest", &GrowVerb::harvest}, Action{"end", &GrowVerb::end},
    Action{"list", &GrowVerb::list},       Action{"show", &GrowVerb::show},
    Action{"compare", &GrowVerb::compare}, Action{"withdraw", &GrowVerb::withdraw},
};

}  // namespace

int do_grow(Session& session) {
  GrowVerb verb(session);
  if (session.args.words.empty()) return verb.list();
  const std::string& name = session.args.words.front();
  std::vector<std::string_view> names;
  for (const Action& action : kActions) {
    if (action.name == name) return (verb.*action.take)();
    names.push_back(action.name);
  }
  usage("ACTION is \"" + words::printable(name) + "\", which is none of them",
        suggestion(name, names));
}

}  // namespace neap::client
