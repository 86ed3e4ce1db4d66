#include "daemon/client/turnover_dose.h"

#include <cmath>

#include "daemon/client/failure.h"
#include "daemon/client/parse.h"
#include "daemon/client/turnover.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

double asked_number(Questions& questions, const std::string& what, double lowest, double highest,
                    double fallback) {
  const AnswerCheck check = [&](const std::string& typed) -> std::string {
    try {
      parse_number("the answer", typed, lowest, highest);
      return {};
    } catch (const Failure& wrong) {
      return wrong.what();
    }
  };
  return parse_number("the answer", questions.ask(what, words::decimals(fallback, 1), check),
                      lowest, highest);
}

}  // namespace

std::string asked_dose(Questions& questions, const settings::Turnover& turnover,
                       double reservoir_l) {
  questions.say(
      "Fresh household bleach, unscented and not thickened. Never together with ammonia, acid, pH "
      "down, descaler, vinegar or leftover nutrient solution: that gives off poisonous gas. "
      "Gloves, goggles, an open window. The label and local rules have the last word.");
  const double pct = asked_number(questions, "Free chlorine by the label, % (0.5 to 15)?", 0.5, 15,
                                  turnover.bleach_pct);
  // What is offered has one decimal, and is not rounded to above what it holds.
  const double litres = asked_number(questions,
                                     "Litres of clean water to be filled in (the reservoir holds " +
                                         words::decimals(reservoir_l, 1) + " L)?",
                                     1, reservoir_l, std::floor(reservoir_l * 10) / 10);
  const double ml = bleach_ml(turnover.chlorine_mg_per_l, pct, litres);
  const std::string dose = words::decimals(ml, 0) + " mL of " + words::decimals(pct, 1) +
                           " % bleach in " + words::decimals(litres, 1) +
                           " L: " + words::decimals(turnover.chlorine_mg_per_l, 0) + " mg/L";
  questions.say("Fill in the water first, then the bleach: " + dose + " of free chlorine.");
  return dose;
}

}  // namespace neap::client
