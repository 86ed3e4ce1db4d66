#include "daemon/words/explain.h"

#include <algorithm>
#include <array>

#include "daemon/words/figures.h"

namespace neap::words {
namespace {

struct LatchRow {
  Latch latch;
  Alarm alarm;
  Explanation says;
};

// In order of number. Their causes are those of the alarm beside them.
constexpr std::array<LatchRow, kLatchCount> kLatchRows{{
    {Latch::leak,
     Alarm::leak,
     {"No water moves, the humidifier stays off, and heater and chiller too, until it is reset.",
      "see the alarm leak",
      "`neap reset leak` is granted once every leak probe has been dry for 10 s; a probe that "
      "cannot be read is not dry"}},
    {Latch::tray_overflow,
     Alarm::tray_overflow,
     {"No water moves, and heater and chiller stay off, until it is reset.",
      "see the alarm overflow",
      "`neap reset overflow` is granted once the overflow float hangs clear and can be read"}},
    {Latch::lost_water,
     Alarm::lost_water,
     {"No water moves, and heater and chiller stay off, until it is reset.",
      "see the alarm lost-water",
      "`neap reset lost-water` is granted with every leak probe dry and no flood under way that "
      "loses water"}},
    {Latch::fill_failed,
     Alarm::fill_failed,
     {"No water moves until it is reset. The reset forgets the learnt fill time, because a person "
      "has looked.",
      "see the alarm fill-failed",
      "`neap reset fill` is granted once the fill is over and the overflow float hangs clear"}},
    {Latch::slow_drain,
     Alarm::slow_drain,
     {"No water moves until it is reset.", "see the alarm slow-drain",
      "`neap reset drain` is granted once the tray has drained and the overflow float hangs "
      "clear"}},
    {Latch::pump_welded,
     Alarm::pump_welded,
     {"neap does not drive the pump until it is reset, however the contact behaves meanwhile.",
      "see the alarm pump-welded",
      "`neap reset weld` is granted once the pump's proof says that it stands while it is told "
      "to"}},
    {Latch::state_lost,
     Alarm::state_lost,
     {"Which latches stood and how long the pump ran before this start is not known, so no water "
      "moves until a person has looked.",
      "see the alarm state-lost",
      "`neap reset state` is granted with dry probes, a clear overflow float and a drained tray"}},
}};
static_assert(std::is_sorted(kLatchRows.begin(), kLatchRows.end(),
                             [](const LatchRow& a, const LatchRow& b) {
                               return a.latch < b.latch;
                             }));

struct FaultRow {
  Fault fault;
  std::string_view key;
  Explanation says;
};

// In order of number. What words::cure() says of a fault is its first remedy.
constexpr std::array kFaultRows{
    FaultRow{Fault::none, "none", {}},
    FaultRow{Fault::not_fitted,
             "not_fitted",
             {"No sensor of the settings provides this point.",
              "the tent has no such sensor; its row is missing under sensors",
              "give a sensor's channel this point under sensors in the settings, if there is one"}},
    FaultRow{Fault::never_read,
             "never_read",
             {"It is fitted, and nothing has come from it since neapd started.",
              "neapd has just started; a slow sensor whose period is not over; a program driver "
              "that prints nothing",
              "wait for one of its periods, then `neap probe`"}},
    FaultRow{Fault::no_answer,
             "no_answer",
             {"The device was asked and did not answer.",
              "its plug is loose; it has no supply; another address than the settings say; a "
              "broken cable",
              ""}},
    FaultRow{Fault::corrupt,
             "corrupt",
             {"It answered, and the checksum, the frame or the number is damaged. Such a value is "
              "never used.",
              "a long or loose cable; mains or a relay's cable beside it; missing pull-up "
              "resistors; two devices with one address",
              ""}},
    FaultRow{Fault::out_of_range,
             "out_of_range",
             {"The value lies outside of what this point can physically be.",
              "a probe that is broken or in another unit; a channel that is mapped to the wrong "
              "point; a curve or offset that is wrong",
              "compare the uncorrected value with the settings' curve and calibration"}},
    FaultRow{Fault::jump,
             "jump",
             {"The value moved faster than air or water can, and is not believed.",
              "a loose plug; interference of a load that switches; somebody breathes on or moves "
              "the probe",
              "wait for the next readings; if it stays, see its plug and cable"}},
    FaultRow{
        Fault::stale,
        "stale",
        {"The last value is too old to act by: one minute, or three periods of a slow sensor.",
         "the bus is busy or hangs; the program behind it stopped; the device answers now and then",
         "see what else hangs on the same bus"}},
    FaultRow{Fault::frozen,
             "frozen",
             {"Exactly the same raw value for longer than a living probe gives.",
              "the chip hangs; a program repeats its last line; the probe is disconnected from its "
              "converter",
              "take its supply away for a moment; if it stays, replace it"}},
    FaultRow{
        Fault::power_on_value,
        "power_on_value",
        {"The value that the chip shows before its first conversion.",
         "its supply breaks down for a moment; a long thin cable; it is asked before it is ready",
         ""}},
    FaultRow{Fault::saturated,
             "saturated",
             {"Humidity has stood at 100 %: the probe is wet, not the air.",
              "condensation or drops on it; it hangs in the mist; it touched a leaf",
              "let it dry or shake it; hang it where mist does not reach"}},
    FaultRow{Fault::erratic,
             "erratic",
             {"Too many of the last values were refused; none is believed until it has behaved for "
              "a while.",
              "a loose plug; a wet board; a failing chip; strong interference",
              "see plug and cable first, then replace it"}},
    FaultRow{Fault::unconfirmed,
             "unconfirmed",
             {"One value moved far at once; the next ones must agree before it counts.",
              "an opened tent; a probe that was moved; a first sign of interference",
              "wait for three readings"}},
    FaultRow{Fault::absent,
             "absent",
             {"The kernel knows no such bus, chip or file.",
              "the overlay or module is not loaded; the name in the settings is wrong; another "
              "kernel numbers it otherwise",
              "`neap probe` lists what is here"}},
    FaultRow{
        Fault::denied,
        "denied",
        {"neapd may not open the device.",
         "neapd's user is not in the group of the device file; a rule of udev is missing", ""}},
    FaultRow{Fault::taken,
             "taken",
             {"Another program or a driver of the kernel holds it.",
              "a kernel module is bound to the chip; a second neapd or a script runs", ""}},
    FaultRow{Fault::hung,
             "hung",
             {"The bus did not end a transfer in time. All that hangs on it is silent.",
              "one device holds a line down; a short; missing pull-up resistors; a cable too long "
              "for the bus",
              ""}},
    FaultRow{Fault::ambiguous,
             "ambiguous",
             {"More than one device fits what the settings name.",
              "two converters or chips of one kind", ""}},
    FaultRow{Fault::not_ready,
             "not_ready",
             {"The device answers and has no value yet.",
              "it was just powered; it converts more slowly than it is asked", ""}},
    FaultRow{Fault::open_wire,
             "open_wire",
             {"The resistor at the end of the probe is not seen. A leak rope that is open counts "
              "as wet.",
              "the cable is cut; the plug is out; the resistor is missing or another than the "
              "settings say",
              ""}},
    FaultRow{Fault::short_wire,
             "short_wire",
             {"The probe's two wires touch.",
              "a crushed cable; bare ends at the plug; water in the plug", ""}},
};
static_assert(std::is_sorted(kFaultRows.begin(), kFaultRows.end(),
                             [](const FaultRow& a, const FaultRow& b) {
                               return a.fault < b.fault;
                             }));

const FaultRow& row_of(Fault fault) {
  const auto number = static_cast<std::size_t>(fault);
  return kFaultRows[number < kFaultRows.size() ? number : 0];
}

// What is optional in a template is shown, and each place as "...".
std::string opened(std::string_view text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '[' || text[i] == ']') continue;
    if (text[i] != '{') {
      out += text[i];
      continue;
    }
    out += "...";
    i = text.find('}', i);
  }
  return out;
}

}  // namespace

const Explanation& explanation(Alarm alarm) {
  static constexpr Explanation kNothing;
  for (const auto rows : {explained_water_alarms(), explained_air_alarms()})
    for (const AlarmExplanation& row : rows)
      if (row.alarm == alarm) return row.says;
  return kNothing;
}

const Explanation& explanation(Latch latch) {
  return kLatchRows[static_cast<std::size_t>(latch)].says;
}

Alarm alarm_of(Latch latch) { return kLatchRows[static_cast<std::size_t>(latch)].alarm; }

const Explanation& explanation(Fault fault) { return row_of(fault).says; }

std::string_view key(Fault fault) { return row_of(fault).key; }

std::string pattern(Reason reason) { return opened(info(reason).text); }

std::string remedy_pattern(Reason reason) { return opened(remedy_template(reason).value_or("")); }

bool refuses(Reason reason) { return remedy_template(reason).has_value(); }

std::string_view causes(const Explanation& says) {
  constexpr std::string_view kElsewhere = "see the alarm ";
  if (!says.causes.starts_with(kElsewhere)) return says.causes;
  for (const AlarmInfo& row : kAlarms)
    if (row.name == says.causes.substr(kElsewhere.size())) return explanation(row.alarm).causes;
  return {};
}

std::vector<std::string_view> listed(std::string_view text) {
  std::vector<std::string_view> parts;
  while (!text.empty()) {
    const std::size_t end = std::min(text.find("; "), text.size());
    parts.push_back(text.substr(0, end));
    text.remove_prefix(std::min(end + 2, text.size()));
  }
  return parts;
}

}  // namespace neap::words
