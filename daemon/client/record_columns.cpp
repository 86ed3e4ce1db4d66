#include "daemon/client/record_columns.h"

#include <array>

#include "daemon/client/records_json.h"
#include "daemon/core/hand.h"
#include "daemon/words/words.h"

namespace neap::client {
namespace {

using journal::AlarmSpan;
using journal::CycleEntry;
using journal::DayEntry;
using journal::DiaryRow;
using journal::EventRow;
using journal::MeasurementRow;
using journal::ReadingRow;

constexpr std::string_view kTick =
    "the board's own milliseconds, which never fall, also across restarts";
constexpr std::string_view kTime =
    "civil time of the tent with its offset; empty: no clock was known";

std::string tick(const journal::Stamp& at) { return std::to_string(at.tick); }
std::string seconds_cell(Millis d) { return number_cell(as_seconds(d)); }
std::string known(bool is_known, double value) {
  return is_known ? number_cell(value) : std::string();
}
std::string text(std::string_view words) { return std::string(words); }
std::string truth(bool value) { return value ? "true" : "false"; }

constexpr std::array kReadings{
    Column<ReadingRow>{{"time", "time", "", "", kTime},
                       [](const auto& r) { return iso_time(r.at); }},
    Column<ReadingRow>{{"tick", "integer", "ms", "0 and up", kTick},
                       [](const auto& r) { return tick(r.at); }},
    Column<ReadingRow>{{"point", "text", "", "see points.csv", "what was measured or worked out"},
                       [](const auto& r) { return text(info(r.point).name); }},
    Column<ReadingRow>{{"value", "number", "", "see points.csv",
                        "in the unit of its point; empty: there is none, see fault"},
                       [](const auto& r) { return number_cell(r.value); }},
    Column<ReadingRow>{{"quality", "text", "", "good, uncertain or bad",
                        "uncertain: held from before, or one of two that disagree; bad: not used"},
                       [](const auto& r) { return text(words::name(r.quality)); }},
    Column<ReadingRow>{
        {"fault", "text", "", "see neap explain", "why there is no value; empty beside a value"},
        [](const auto& r) { return r.fault == Fault::none ? "" : text(words::name(r.fault)); }},
};

constexpr std::array kEvents{
    Column<EventRow>{{"number", "integer", "", "1 and up", "gap-free within the journal"},
                     [](const auto& r) { return std::to_string(r.number); }},
    Column<EventRow>{{"time", "time", "", "", kTime}, [](const auto& r) { return iso_time(r.at); }},
    Column<EventRow>{{"tick", "integer", "ms", "0 and up", kTick},
                     [](const auto& r) { return tick(r.at); }},
    Column<EventRow>{{"kind", "text", "", "as neap events --kind", "what sort of event"},
                     [](const auto& r) { return text(words::name(r.event.kind)); }},
    Column<EventRow>{{"reason", "text", "", "see neap explain", "why it happened"},
                     [](const auto& r) { return text(info(r.event.because.reason).key); }},
    Column<EventRow>{
        {"text", "text", "", "", "the event as neap events prints it"},
        [](const auto& r) { return words::printable(words::sentence(r.event, {}, r.name)); }},
};

constexpr std::array kFloods{
    Column<CycleEntry>{{"started", "time", "", "", kTime},
                       [](const auto& r) { return iso_time(r.started); }},
    Column<CycleEntry>{{"tick", "integer", "ms", "0 and up", kTick},
                       [](const auto& r) { return tick(r.started); }},
    Column<CycleEntry>{{"slot_date", "text", "", "YYYY-MM-DD",
                        "date of the lights-on that its slot belongs to; empty: no slot"},
                       [](const auto& r) {
                         return r.row.slot.number == 0 ? "" : words::civil_date(r.row.slot.date);
                       }},
    Column<CycleEntry>{{"slot_number", "integer", "", "1 to 48", "of the slots of that day"},
                       [](const auto& r) {
                         return r.row.slot.number == 0 ? "" : std::to_string(r.row.slot.number);
                       }},
    Column<CycleEntry>{{"origin", "text", "",
                        "schedule, catch-up, operator, retry, by time, "
                        "another hand",
                        "who asked for it"},
                       [](const auto& r) { return text(words::name(r.row.origin)); }},
    Column<CycleEntry>{{"outcome", "text", "", "complete, or what went wrong", "how it ended"},
                       [](const auto& r) { return text(words::name(r.row.outcome)); }},
    Column<CycleEntry>{{"fill", "number", "s", "0 to 1800", "until the tray was proven full"},
                       [](const auto& r) { return seconds_cell(r.row.fill); }},
    Column<CycleEntry>{{"soak", "number", "s", "0 to 3600", "roots under water"},
                       [](const auto& r) { return seconds_cell(r.row.soak); }},
    Column<CycleEntry>{{"drain", "number", "s", "0 to 7200", "until the tray was empty"},
                       [](const auto& r) { return seconds_cell(r.row.drain); }},
    Column<CycleEntry>{{"pump_on", "number", "s", "0 to 3600", "time that the pump ran"},
                       [](const auto& r) { return seconds_cell(r.row.pump_on); }},
    Column<CycleEntry>{{"litres_out", "number", "L", "0 to 1000",
                        "what the reservoir gave; empty: no level sensor"},
                       [](const auto& r) { return known(r.row.litres_known, r.row.litres_out); }},
    Column<CycleEntry>{{"litres_back", "number", "L", "0 to 1000", "what came back"},
                       [](const auto& r) { return known(r.row.litres_known, r.row.litres_back); }},
    Column<CycleEntry>{{"vpd_before", "number", "kPa", "0 to 10", "VPD as it began"},
                       [](const auto& r) { return known(r.row.dip_known, r.row.vpd_before_kpa); }},
    Column<CycleEntry>{{"vpd_lowest", "number", "kPa", "0 to 10", "lowest VPD after it"},
                       [](const auto& r) { return known(r.row.dip_known, r.row.vpd_lowest_kpa); }},
    Column<CycleEntry>{
        {"recovery", "number", "s", "0 and up",
         "from the pump's stop until VPD was back in its band; empty: not"},
        [](const auto& r) { return known(r.row.recovered, as_seconds(r.row.recovery)); }},
};

constexpr std::array kAlarmSpans{
    Column<AlarmSpan>{{"alarm", "text", "", "see neap explain", "its name"},
                      [](const auto& r) { return text(info(r.alarm).name); }},
    Column<AlarmSpan>{{"title", "text", "", "", "as screens show it"},
                      [](const auto& r) { return text(info(r.alarm).title); }},
    Column<AlarmSpan>{{"priority", "text", "", "advisory, low, medium, high, critical",
                       "how soon somebody must come"},
                      [](const auto& r) { return text(words::name(info(r.alarm).priority)); }},
    Column<AlarmSpan>{{"raised", "time", "", "", kTime},
                      [](const auto& r) { return iso_time(r.raised); }},
    Column<AlarmSpan>{{"cleared", "time", "", "", "when its condition ended; empty: it stands"},
                      [](const auto& r) { return r.cleared ? iso_time(*r.cleared) : ""; }},
    Column<AlarmSpan>{{"raised_tick", "integer", "ms", "0 and up", kTick},
                      [](const auto& r) { return tick(r.raised); }},
    Column<AlarmSpan>{{"acknowledged", "truth", "", "true or false", "somebody said so"},
                      [](const auto& r) { return truth(r.acknowledged); }},
    Column<AlarmSpan>{{"reason", "text", "", "see neap explain", "why it was raised"},
                      [](const auto& r) { return text(info(r.because.reason).key); }},
    Column<AlarmSpan>{{"text", "text", "", "", "the same as a sentence"},
                      [](const auto& r) { return words::sentence(r.because); }},
};

constexpr std::array kDays{
    Column<DayEntry>{{"date", "text", "", "YYYY-MM-DD", "civil date of the day's lights-on"},
                     [](const auto& r) { return words::civil_date(r.tally.date); }},
    Column<DayEntry>{{"began", "time", "", "", kTime},
                     [](const auto& r) { return iso_time(r.began); }},
    Column<DayEntry>{{"began_tick", "integer", "ms", "0 and up", kTick},
                     [](const auto& r) { return tick(r.began); }},
    Column<DayEntry>{{"day_known", "number", "s", "0 to 86400", "light time with a usable VPD"},
                     [](const auto& r) { return seconds_cell(r.tally.day_known); }},
    Column<DayEntry>{{"day_in_band", "number", "s", "0 to 86400", "of it in the band"},
                     [](const auto& r) { return seconds_cell(r.tally.day_in_band); }},
    Column<DayEntry>{{"night_known", "number", "s", "0 to 86400", "dark time with a usable VPD"},
                     [](const auto& r) { return seconds_cell(r.tally.night_known); }},
    Column<DayEntry>{{"night_in_band", "number", "s", "0 to 86400", "of it in the band"},
                     [](const auto& r) { return seconds_cell(r.tally.night_in_band); }},
    Column<DayEntry>{{"below", "number", "s", "0 to 86400", "VPD under the band"},
                     [](const auto& r) { return seconds_cell(r.tally.below); }},
    Column<DayEntry>{{"above", "number", "s", "0 to 86400", "VPD over the band"},
                     [](const auto& r) { return seconds_cell(r.tally.above); }},
    Column<DayEntry>{
        {"out_of_band", "number", "kPa h", "0 and up", "distance to the band summed over time"},
        [](const auto& r) { return number_cell(r.tally.kpa_h_out); }},
    Column<DayEntry>{{"humid", "number", "s", "0 to 86400", "humidity over 85 %"},
                     [](const auto& r) { return seconds_cell(r.tally.humid); }},
    Column<DayEntry>{{"vpd_lowest", "number", "kPa", "0 to 10", "of the day"},
                     [](const auto& r) { return known(r.tally.any_vpd, r.tally.vpd_lowest); }},
    Column<DayEntry>{{"vpd_highest", "number", "kPa", "0 to 10", "of the day"},
                     [](const auto& r) { return known(r.tally.any_vpd, r.tally.vpd_highest); }},
    Column<DayEntry>{{"floods_planned", "integer", "", "0 to 48", "slots that came due"},
                     [](const auto& r) { return std::to_string(r.tally.floods_planned); }},
    Column<DayEntry>{{"floods_started", "integer", "", "0 and up", "of slots, and catch-up"},
                     [](const auto& r) { return std::to_string(r.tally.floods_started); }},
    Column<DayEntry>{{"floods_complete", "integer", "", "0 and up", "filled and drained"},
                     [](const auto& r) { return std::to_string(r.tally.floods_complete); }},
    Column<DayEntry>{{"litres_out", "number", "L", "0 and up", "of all floods"},
                     [](const auto& r) { return number_cell(r.tally.litres_out); }},
    Column<DayEntry>{{"litres_back", "number", "L", "0 and up", "of all floods"},
                     [](const auto& r) { return number_cell(r.tally.litres_back); }},
    Column<DayEntry>{{"pump_on", "number", "s", "0 to 43200", "time that the pump ran"},
                     [](const auto& r) { return seconds_cell(r.tally.pump_on); }},
    Column<DayEntry>{{"dehumidifier_on", "number", "s", "0 to 86400", "time that it ran"},
                     [](const auto& r) { return seconds_cell(r.tally.dehumidifier_on); }},
    Column<DayEntry>{{"dehumidifier_starts", "integer", "", "0 and up", "its starts"},
                     [](const auto& r) { return std::to_string(r.tally.dehumidifier_starts); }},
    Column<DayEntry>{{"humidifier_on", "number", "s", "0 to 86400", "time that it ran"},
                     [](const auto& r) { return seconds_cell(r.tally.humidifier_on); }},
    Column<DayEntry>{{"fan", "number", "h", "0 to 25", "the exhaust fan's level summed over time"},
                     [](const auto& r) { return number_cell(r.tally.fan_hours); }},
    Column<DayEntry>{{"fan_moves", "integer", "", "0 and up", "its changes of 5 % or more"},
                     [](const auto& r) { return std::to_string(r.tally.fan_moves); }},
};

std::string unit_of(const MeasurementRow& row) {
  for (const HandInfo& hand : kHands)
    if (hand.name == row.quantity) return std::string(hand.unit);
  return {};
}

constexpr std::array kMeasurements{
    Column<MeasurementRow>{{"number", "integer", "", "1 and up", "as neap measure shows it"},
                           [](const auto& r) { return std::to_string(r.number); }},
    Column<MeasurementRow>{{"taken", "time", "", "", kTime},
                           [](const auto& r) { return iso_time(r.taken); }},
    Column<MeasurementRow>{{"quantity", "text", "", "ph, ec, level, temperature and others",
                            "what was measured or poured in by hand"},
                           [](const auto& r) { return r.quantity; }},
    Column<MeasurementRow>{{"unit", "text", "", "", "of the value"}, unit_of},
    Column<MeasurementRow>{{"value", "number", "", "", "as it is known now"},
                           [](const auto& r) { return number_cell(r.value); }},
    Column<MeasurementRow>{
        {"first_value", "number", "", "", "as it was told, where it was corrected since"},
        [](const auto& r) { return number_cell(r.first_value); }},
    Column<MeasurementRow>{{"note", "text", "", "up to 256 bytes", "a person's words"},
                           [](const auto& r) { return r.note; }},
    Column<MeasurementRow>{{"photo", "text", "", "", "path of a picture, as it was told"},
                           [](const auto& r) { return r.photo; }},
};

constexpr std::array kDiary{
    Column<DiaryRow>{{"number", "integer", "", "1 and up", "as it is withdrawn by"},
                     [](const auto& r) { return std::to_string(r.number); }},
    Column<DiaryRow>{{"happened", "time", "", "", kTime},
                     [](const auto& r) { return iso_time(r.happened); }},
    Column<DiaryRow>{{"kind", "text", "",
                      "grow_started, grow_note, harvest, grow_ended, care, "
                      "remark, look, turnover",
                      "what sort of entry"},
                     [](const auto& r) { return r.kind; }},
    Column<DiaryRow>{{"subject", "text", "", "", "of which grow, part, look or step"},
                     [](const auto& r) { return r.subject; }},
    Column<DiaryRow>{{"figure", "number", "", "", "plants of a start, grams of a harvest"},
                     [](const auto& r) { return number_cell(r.figure); }},
    Column<DiaryRow>{{"mark", "text", "", "", "quality of a harvest; well, trouble; done, skipped"},
                     [](const auto& r) { return r.mark; }},
    Column<DiaryRow>{{"says", "text", "", "up to 1000 bytes", "a person's words"},
                     [](const auto& r) { return r.says; }},
};

}  // namespace

std::span<const Column<ReadingRow>> reading_columns() { return kReadings; }
std::span<const Column<EventRow>> event_columns() { return kEvents; }
std::span<const Column<CycleEntry>> flood_columns() { return kFloods; }
std::span<const Column<AlarmSpan>> alarm_columns() { return kAlarmSpans; }
std::span<const Column<DayEntry>> day_columns() { return kDays; }
std::span<const Column<MeasurementRow>> measurement_columns() { return kMeasurements; }
std::span<const Column<DiaryRow>> diary_columns() { return kDiary; }

}  // namespace neap::client
