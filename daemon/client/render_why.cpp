#include "daemon/client/peek.h"
#include "daemon/client/render.h"

namespace neap::client {
namespace {

using nlohmann::json;

std::string line(const std::string& text) { return wrapped(text, kPageWidth, 2) + "\n"; }

// What the interlocks say of the output, when they say anything.
std::string verdict_line(const json& why) {
  const std::string reason = text_at(why, "/verdict/reason/text");
  if (true_at(why, "/verdict/trip")) return line("Tripped to its safe state: " + reason + ".");
  if (true_at(why, "/verdict/inhibit")) return line("It may not start: " + reason + ".");
  const auto cap = number_at(why, "/verdict/cap");
  if (cap && *cap < 1000)
    return line("Capped at " + std::to_string(static_cast<int>(*cap / 10)) + " %: " + reason + ".");
  return line("No interlock holds it back.");
}

std::string dwell_line(const json& why) {
  const auto since = length_at(why, "/dwell/since_s");
  const auto min_on = length_at(why, "/dwell/min_on_s");
  const auto min_off = length_at(why, "/dwell/min_off_s");
  if (!since || !min_on || !min_off || (*min_on == Millis{0} && *min_off == Millis{0})) return {};
  return line("It changed " + words::duration(*since) + " ago; it stays running for " +
              words::duration(*min_on) + " and stopped for " + words::duration(*min_off) +
              " at least.");
}

// What keeps the band out of reach, and what would do; nothing when it is within.
std::string reach_lines(const json& why) {
  const std::string binding = text_at(why, "/binding");
  if (binding.empty() || binding == "nothing") return {};
  std::string out = line("The band is out of reach: " + text_at(why, "/diagnosis/text") + ".");
  if (const std::string cures = cures_text(why); !cures.empty())
    out += line("Would do as well: " + cures + ".");
  return out;
}

}  // namespace

std::string render_why(const json& why, const Look& look) {
  const std::string title = text_at(why, "/title");
  if (const json* fitted = at(why, "/fitted"); fitted != nullptr && *fitted == false)
    return line("The " + title + " is not fitted in these settings.");
  const std::string word = text_at(why, "/word");
  std::string out =
      toned(look, Tone::strong,
            wrapped("The " + title + " is " + word + ": " + text_at(why, "/reason/text") + ".",
                    kPageWidth, 2)) +
      "\n";
  if (text_at(why, "/hand") == "another")
    return out +
           line("neap would have it " + text_at(why, "/wanted_word") + ": " +
                text_at(why, "/wanted_reason/text") + ".") +
           line("Hand it over with `hand: neap` under outputs." + text_at(why, "/output") +
                " in the settings, then neap apply.");
  out += line("Decided by: " + text_at(why, "/precedence") + ".");
  const auto level = number_at(why, "/level");
  const auto wanted = number_at(why, "/wanted_level");
  const std::string wanted_word = text_at(why, "/wanted_word");
  const std::string wanted_reason = text_at(why, "/wanted_reason/text");
  if (wanted && level && *wanted != *level)
    out += line("Refused: " +
                (wanted_word.empty() ? std::to_string(static_cast<int>(*wanted / 10)) + " %"
                                     : wanted_word) +
                " was asked for, " + wanted_reason + ".");
  else
    out += line("Nothing asked for another level.");
  out += verdict_line(why) + dwell_line(why) + reach_lines(why);
  if (const json* roots = at(why, "/roots"); roots != nullptr && roots->is_object())
    out += line(roots_text(*roots) + ".");
  if (const json* demand = at(why, "/demand"); demand != nullptr && demand->is_object())
    out += line(demand_text(*demand) + ".");
  for (const json& latch : list_at(why, "/latches"))
    out +=
        toned(look, Tone::bad,
              wrapped("Latched: " + text_at(latch, "/title") +
                          "; when its cause is gone, neap reset " + text_at(latch, "/latch") + ".",
                      kPageWidth, 2)) +
        "\n";
  if (const auto lease = length_at(why, "/lease_left_s"); lease && *lease > Millis{0})
    out += line("Without renewal it goes to its safe state in " + words::duration(*lease) + ".");
  return out;
}

}  // namespace neap::client
