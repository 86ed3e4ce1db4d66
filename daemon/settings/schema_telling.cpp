// Rows of telling: hooks, quiet hours, the line of the day.
#include <array>

#include "daemon/settings/schema.h"

namespace neap::settings {
namespace {

Hook& hook(Draft& d) { return d.telling->hooks.back(); }

constexpr std::array kHookKeys{
    required(
        "name", Kind::word, "mail", std::nullopt,
        [](Draft& d, const Value& v) { hook(d).name = v.text; },
        "what neap tell and neap status call it; each only once"),
    required(
        "command", Kind::command, "[/usr/local/lib/neap/tell-mail, grower@example.org]",
        std::nullopt, [](Draft& d, const Value& v) { hook(d).command = v.words; },
        "the program and its arguments, started as they stand: no shell looks at them, and what is "
        "told comes as JSON on its standard input"),
    choice(
        "tells", Need::defaulted, "messages", "messages heartbeat",
        [](Draft& d, const Value& v) { hook(d).tells = static_cast<HookTells>(v.index); },
        "heartbeat is for a watcher elsewhere, which rings when it hears nothing more"),
    choice(
        "from", Need::defaulted, "low", "advisory low medium high critical",
        [](Draft& d, const Value& v) { hook(d).from = static_cast<Priority>(v.index); },
        "alarms of this priority and above; what neap tells of itself is of high priority"),
    defaulted(
        "daily", Kind::truth, "true", std::nullopt,
        [](Draft& d, const Value& v) { hook(d).daily = v.truth(); },
        "whether it gets the line of the day; without, it gets a proof at the same time, which "
        "need "
        "not reach anybody"),
    defaulted(
        "time_limit", Kind::duration, "10 s", Bounds{1, 60},
        [](Draft& d, const Value& v) { hook(d).time_limit = v.millis(); },
        "then it and all that it started are killed, and it counts as failed (a choice)"),
    defaulted(
        "try_for", Kind::duration, "24 h", Bounds{300, 7 * 86400.0},
        [](Draft& d, const Value& v) { hook(d).try_for = v.millis(); },
        "how long what could not be told is tried again, after 30 s and then ever later up to half "
        "an hour (a choice)"),
    defaulted(
        "most_an_hour", Kind::count, "12", Bounds{1, 60},
        [](Draft& d, const Value& v) { hook(d).most_an_hour = static_cast<int>(v.number); },
        "starts of it; what comes faster is told together, and what may wake people is not held "
        "back (a choice)"),
};
constexpr Section kHookSection{"a hook",
                               kHookKeys,
                               [](Draft& d, std::string_view) { d.telling->hooks.emplace_back(); },
                               nullptr,
                               {}};

constexpr std::array kQuietKeys{
    required(
        "from", Kind::clock, "\"22:00\"", std::nullopt,
        [](Draft& d, const Value& v) { d.telling->quiet.from_s = v.whole(); },
        "may be later than \"to\": then they cross midnight"),
    required(
        "to", Kind::clock, "\"07:00\"", std::nullopt,
        [](Draft& d, const Value& v) { d.telling->quiet.to_s = v.whole(); },
        "what was held back is told then, in one message"),
};
constexpr Section kQuietSection{"telling.quiet",
                                kQuietKeys,
                                [](Draft& d, std::string_view) { d.telling->quiet.fitted = true; },
                                nullptr,
                                {}};

constexpr std::array kTellingKeys{
    group("hooks", Kind::section_list, Need::required, kHookSection,
          "programs that tell: by mail, to a telephone, to a watcher on a second machine"),
    defaulted(
        "heartbeat", Kind::duration, "10 min", Bounds{60, 3600},
        [](Draft& d, const Value& v) { d.telling->heartbeat = v.millis(); },
        "from one heartbeat to the next; none is sent while neapd does not write (a choice)"),
    defaulted(
        "daily", Kind::clock, "08:00", std::nullopt,
        [](Draft& d, const Value& v) { d.telling->daily_s = v.whole(); },
        "when the line of the day is told, which proves that the way works"),
    group("quiet", Kind::section, Need::optional, kQuietSection,
          "hours in which only what may wake people is told: critical alarms, water, welds"),
    defaulted(
        "remind", Kind::duration, "1 h", Bounds{300, 86400},
        [](Draft& d, const Value& v) { d.telling->remind = v.millis(); },
        "after which an alarm of high priority that nobody has acknowledged is told again (a "
        "choice)"),
    optional(
        "metrics", Kind::text, "/var/lib/prometheus/node-exporter/neap.prom", std::nullopt,
        [](Draft& d, const Value& v) { d.telling->metrics = v.text; },
        "a file for a node exporter's textfile directory, written anew each minute"),
};

}  // namespace

const Section kTellingSection{
    "telling", kTellingKeys, [](Draft& d, std::string_view) { d.telling.emplace(); }, nullptr, {}};

}  // namespace neap::settings
