#include "daemon/client/check_in.h"

#include <algorithm>
#include <array>

#include "daemon/client/care.h"
#include "daemon/client/diary.h"
#include "daemon/client/failure.h"
#include "daemon/client/grow.h"
#include "daemon/client/hand_record.h"
#include "daemon/client/journal_ask.h"
#include "daemon/client/measures.h"
#include "daemon/client/questions.h"
#include "daemon/client/spool.h"
#include "daemon/client/stages.h"
#include "daemon/client/verbs.h"
#include "daemon/client/water_record.h"
#include "daemon/client/zone.h"
#include "daemon/core/limits.h"
#include "daemon/words/figures.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using nlohmann::json;

constexpr std::size_t kLongestNote = 256;  // bytes, as the daemon stores it
constexpr std::string_view kCheckIn = "check-in";
// In the order in which a person meets them: the meters in the solution, then the gauge.
constexpr std::array kOfTheDay{Hand::ph, Hand::ec, Hand::temperature, Hand::level};

struct Job {
  std::string_view name;
  std::string_view what;      // to do, before the questions
  std::optional<Hand> put{};  // what went into the reservoir
  std::string_view part{};    // of `neap care` that was seen to
};
constexpr std::array kJobs{
    Job{"topup", "Top up the reservoir; stir it, and give it five minutes.", Hand::topup},
    Job{"change",
        "Empty the reservoir, wipe it, and rinse the pump's strainer. Fill it with fresh solution, "
        "stir it, and give it five minutes.",
        Hand::change},
    Job{"plants", "See to the plants. Look at the roots: white is well, brown and slimy is not."},
    Job{"clean", "Clean the strainer, the standpipe's screen and the drain; wipe the floats.",
        std::nullopt, kCleanedPart},
};

// What stands beside the questions: the last of each by hand, and the stage's bands. Both may be
// missing: a check-in needs neither journal nor settings.
struct Beside {
  std::vector<journal::MeasurementRow> rows{};
  SolutionTargets targets{};
  std::optional<double> reservoir_l{};
  std::optional<journal::DiaryRow> remark{};  // the last that belongs to no grow
};

Beside look_beside(const Session& session) {
  Beside beside;
  if (auto remarks = of_kind(diary_of(session), "remark"); !remarks.empty())
    beside.remark = std::move(remarks.back());
  std::string error;
  const auto reader = journal::Reader::open(session.globals.journal, error);
  if (!reader) return beside;
  beside.rows = reader->measurements({});
  const auto settings = settings::load_text(reader->settings_in_force());
  if (!settings.loaded) return beside;
  beside.targets = stage_now(*reader, settings.loaded->plan).solution;
  beside.reservoir_l = settings.loaded->plan.table.reservoir_capacity.value;
  return beside;
}

std::string question(Hand hand, const Beside& beside) {
  const HandInfo& row = info(hand);
  std::string text =
      std::string(row.title) + (row.unit.empty() ? std::string() : " in " + std::string(row.unit));
  std::string known;
  const auto last = std::find_if(
      beside.rows.rbegin(), beside.rows.rend(),
      [&](const journal::MeasurementRow& found) { return found.quantity == row.name; });
  if (last != beside.rows.rend())
    known = "last " + words::decimals(last->value, hand == Hand::level ? 1 : 2) + ", " +
            minute_of(last->taken);
  const auto number = static_cast<std::size_t>(hand);
  if (number < kWatchedHands && beside.targets[number])
    known +=
        (known.empty() ? "wanted " : "; wanted ") + hand_band_text(hand, *beside.targets[number]);
  return text + (known.empty() ? "" : " (" + known + ")") + ":";
}

void ask_figure(Questions& questions, Hand hand, const Beside& beside, Measured& measured) {
  const std::string answer = questions.maybe(question(hand, beside), [&](const std::string& typed) {
    try {
      parse_figure(hand, typed, beside.reservoir_l);
    } catch (const Failure& failure) {
      return std::string(failure.what()) + "; " + failure.remedy();
    }
    return std::string();
  });
  if (!answer.empty())
    measured.values.push_back({hand, parse_figure(hand, answer, beside.reservoir_l)});
}

Questions questions_of(const Session& session, const char* when_ended) {
  std::ostream& prompts = session.globals.json ? session.around.err : session.out();
  return {session.around.in, prompts, !session.around.in_is_terminal, when_ended};
}

// What was typed when `name` was done.
struct Answers {
  std::string name;  // "check-in", "service topup"
  Measured measured{};
  std::string remark{};
  std::string_view part{};  // of `neap care` that was seen to
};

// Who reads the record knows a check-in by itself, and work by its name.
std::string note_of(const Answers& answers) {
  if (answers.name == kCheckIn) return answers.remark;
  return answers.name + (answers.remark.empty() ? "" : ": " + answers.remark);
}

// Tells the diary; the sentence that says so. Figures were taken in by now, or floods wait: what
// cannot be kept is said, and the rest goes on.
std::string told_diary(const Session& session, const DiaryNote& note, const std::string& what,
                       json& result) {
  std::string text;
  try {
    const bool taken = tell_diary(session, note, result["diary"]);
    text = (taken ? "Noted: " : "No daemon runs; kept for it: ") + what + ".";
  } catch (const Failure& failure) {
    text = "Not kept: " + what + ": " + failure.what() + "; " + failure.remedy() + ".";
  }
  return wrapped(text, kPageWidth, 2) + "\n";
}

// A remark without a figure has no measurement to stand beside.
std::string told_remark(const Session& session, const Answers& answers, json& result) {
  const auto grows = grows_of(diary_of(session));
  if (const Grow* grow = grow_under_way(grows))
    return told_diary(session, {"grow_note", grow->name, {}, "", note_of(answers)},
                      "the remark, with grow " + words::printable(grow->name), result);
  return told_diary(session, {"remark", answers.name, {}, "", answers.remark}, "the remark",
                    result);
}

std::string told_care(const Session& session, const Answers& answers, const std::string& says,
                      json& result) {
  return told_diary(session, {"care", std::string(answers.part), {}, "", says},
                    "the " + std::string(answers.part) + " was seen to; it counts from there",
                    result);
}

// Hands in what was answered; the sentences that say so.
std::string hand_in_answers(const Session& session, const Answers& answers, json& result) {
  const Measured& measured = answers.measured;
  if (measured.values.empty()) {
    std::string text = "Nothing was measured.\n";
    if (!answers.part.empty()) return text + told_care(session, answers, answers.remark, result);
    return answers.remark.empty() ? text : text + told_remark(session, answers, result);
  }
  std::string text =
      hand_in_measured(session, measured, note_of(answers), result)
          ? noted_text(result, measured)
          : wrapped("No daemon runs; kept for it: " + hand_texts(measured.values) + ".", kPageWidth,
                    2) +
                "\n";
  return answers.part.empty() ? text : text + told_care(session, answers, "", result);
}

// What is noted is `before` bytes and the remark behind them. A remark that no grow has is shown
// here again, by its last one.
std::string remark(Questions& questions, const Beside& beside, std::size_t before) {
  const std::size_t most = kLongestNote - before;
  std::string last;
  if (beside.remark)
    last = " (last \"" + clipped(words::printable(beside.remark->says), kPhoneWidth) + "\", " +
           minute_of(beside.remark->happened) + ")";
  return questions.maybe("Anything to remember" + last + ":", [most](const std::string& typed) {
    if (!is_text(typed)) return std::string("it is no UTF-8 text: write it without accents");
    return typed.size() <= most ? std::string()
                                : "at most " + std::to_string(most) + " bytes are stored";
  });
}

// Whoever fills a reservoir whose water is in the tray gets it back over the rim.
void warn_of_water_away(const Session& session, Questions& questions) {
  const json status = session.ask("status", json::object());
  if (!water_away(status.value("flood", json::object()).value("phase", ""))) return;
  questions.say(
      "Not yet: the tray still holds water that comes back; wait until it has drained (`neap "
      "status` shows it).");
}

// What was told must not go unsaid because the daemon went away meanwhile.
std::string end_service(const Session& session) {
  try {
    session.ask("service", {{"action", "end"}});
    return "Service is over; floods may start.\n";
  } catch (const Failure& failure) {
    if (failure.code() != kExitNoDaemon) throw;
    return wrapped(
               "neapd is down, and remembers the service: when it runs again floods wait until "
               "`neap service end`.",
               kPageWidth, 2) +
           "\n";
  }
}

}  // namespace

int do_check_in(Session& session) {
  Questions questions = questions_of(session, "begin again; nothing was noted");
  questions.say("An empty line skips a question.");
  const Beside beside = look_beside(session);
  Answers answers{std::string(kCheckIn)};
  for (const Hand hand : kOfTheDay) ask_figure(questions, hand, beside, answers.measured);
  answers.remark = remark(questions, beside, 0);
  json result = json::object();
  std::string text = hand_in_answers(session, answers, result);
  result["due"] = json::array();
  for (const std::string& line : care_due(session)) {
    result["due"].push_back(line);
    text += wrapped("Due: " + line, kPhoneWidth, 2) + "\n";
  }
  session.show(result, text);
  return kExitDone;
}

int work_at_tent(Session& session, const std::string& name, std::optional<Millis> lasts) {
  const Job& job =
      *std::find_if(kJobs.begin(), kJobs.end(), [&](const Job& row) { return row.name == name; });
  Questions questions = questions_of(
      session,
      "the service is still declared and floods wait; end it with `neap service end`, and tell "
      "figures by `neap measure`");
  const Millis length = lasts.value_or(limits::kServiceCeiling);
  session.ask("service",
              {{"action", "begin"}, {"for_s", static_cast<double>(length.count()) / 1000}});
  if (job.put) warn_of_water_away(session, questions);
  questions.say("No flood starts until you are done; an alarm reminds you at " +
                clock_of(session, session.around.now_unix_ms() + length.count()) + ". " +
                std::string(job.what) + " An empty line skips a question.");
  questions.wait_for_enter("When it is done:");
  const Beside beside = look_beside(session);
  Answers answers{"service " + name, {}, {}, job.part};
  if (job.put) ask_figure(questions, *job.put, beside, answers.measured);
  for (const Hand hand : kOfTheDay) ask_figure(questions, hand, beside, answers.measured);
  answers.remark = remark(questions, beside, answers.name.size() + 2);
  json result = json::object();
  const std::string text = hand_in_answers(session, answers, result);
  session.show(result, text + end_service(session));
  return kExitDone;
}

}  // namespace neap::client
