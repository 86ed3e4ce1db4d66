#include "daemon/client/mix_view.h"

#include <algorithm>
#include <array>

#include "daemon/client/hand_record.h"
#include "daemon/words/figures.h"

namespace neap::client {
namespace {

using nlohmann::json;
using Side = Table::Side;
using words::decimals;

constexpr std::int64_t kNearMs = Millis{hours{6}}.count();

std::string ec_text(double ec) { return decimals(ec, 2) + " mS/cm"; }
// A small syringe has hundredths up to 1 mL, a large one tenths up to 10 mL; a jug has none.
std::string ml_figure(double ml) { return decimals(ml, ml < 1 ? 2 : ml < 10 ? 1 : 0); }
std::string ml_text(double ml) { return ml_figure(ml) + " mL"; }

constexpr std::array<std::string_view, 3> kMixSteps{
    "Water first, then the stocks one after the other, stirred in between: parts that meet "
    "undiluted fall out as a white sludge and feed nothing.",
    "Let a flood or ten minutes mix it, then measure EC and pH and note them with neap measure: "
    "sums come near, probes decide.",
    "pH last: stocks move it."};

constexpr std::array<std::string_view, 3> kPhSteps{
    "Goggles and gloves. Stir the dose into a litre of reservoir water, acid into water and never "
    "water into acid, then pour that into the reservoir.",
    "Never together with the stocks, nor acid with base in one vessel.",
    "Wait for a flood or 30 minutes, measure, note dose and pH (see below), and ask again."};

template <std::size_t N>
json list_of(const std::array<std::string_view, N>& lines) {
  json list = json::array();
  for (const std::string_view line : lines) list.push_back(line);
  return list;
}

template <std::size_t N>
std::string numbered(const std::array<std::string_view, N>& lines, std::size_t width) {
  std::string out;
  for (std::size_t i = 0; i < N; ++i)
    out += wrapped(std::to_string(i + 1) + ". " + std::string(lines[i]), width, 3) + "\n";
  return out;
}

json figure_json(const std::optional<Figure>& figure) {
  if (!figure) return nullptr;
  return {{"value", figure->value}, {"whence", figure->whence}};
}

// " Level: by hand, 2026-06-01 14:05." behind what stands there; nothing of what was typed.
void add_whence(std::string& text, const std::string& what, const Figure& figure) {
  if (figure.whence == "typed") return;
  text += (text.empty() ? "" : " ") + what + ": " + figure.whence + ".";
}

}  // namespace

json mix_json(const MixView& view) {
  json stocks = json::array();
  for (const solution::Portion& portion : view.mix.stocks)
    stocks.push_back({{"name", portion.stock}, {"ml", portion.millilitres}});
  return {{"level_l", figure_json(view.level)},
          {"ec_ms_cm", figure_json(view.ec)},
          {"target", figure_json(view.target)},
          {"water_l", view.mix.water_l},
          {"water_ec_ms_cm", view.water_ec},
          {"stocks", stocks},
          {"doses", view.mix.doses},
          {"result", {{"litres", view.mix.result.litres}, {"ec_ms_cm", view.mix.result.ec}}},
          {"steps", list_of(kMixSteps)}};
}

std::string render_mix(const MixView& view, const Look& look, std::size_t width) {
  const auto litres = [&](double v) { return words::volume(v, look.style); };
  const solution::Mix& mix = view.mix;
  std::string head = "Fresh reservoir: ";
  if (view.top_up)
    head = "Top-up of " + litres(view.level->value) + " with " + ec_text(view.ec->value) + ": ";
  head += litres(mix.result.litres) + " of " + ec_text(mix.result.ec);
  std::string out = toned(look, Tone::strong, wrapped(head, width, 2)) + "\n";
  Table table({Side::left, Side::right, Side::left});
  table.add({"water", litres(mix.water_l), "of " + ec_text(view.water_ec)});
  for (const solution::Portion& portion : mix.stocks)
    table.add({words::printable(portion.stock), ml_text(portion.millilitres), ""});
  out += table.text(look, width, 2);
  if (mix.stocks.empty())
    out +=
        wrapped("Plain water does it: plants took less than was fed, or water dried away.", width) +
        "\n";
  std::string whence;
  add_whence(whence, "EC wanted", view.target);
  if (view.level) add_whence(whence, "Level", *view.level);
  if (view.ec) add_whence(whence, "EC", *view.ec);
  if (!whence.empty()) out += toned(look, Tone::quiet, wrapped(whence, width)) + "\n";
  return out + numbered(kMixSteps, width);
}

json ph_json(const PhView& view) {
  json out = {{"level_l", figure_json(view.level)},
              {"ph", figure_json(view.ph)},
              {"target", view.target.value},
              {"target_whence", view.target.whence},
              {"doses_learnt_from", view.response ? view.response->doses : 0},
              {"ml_per_tenth_per_l", nullptr},
              {"step", nullptr},
              {"steps", list_of(kPhSteps)}};
  if (view.response) out["ml_per_tenth_per_l"] = view.response->ml_per_tenth_per_l;
  if (view.step) {
    out["step"] = {{"of", view.step->acid ? "ph_down" : "ph_up"},
                   {"ml", view.step->millilitres},
                   {"all_ml", view.step->all_ml},
                   {"expected_ph", nullptr}};
    if (view.step->expected_ph) out["step"]["expected_ph"] = *view.step->expected_ph;
  }
  return out;
}

std::string render_ph(const PhView& view, const Look& look, std::size_t width) {
  const std::string from = "pH " + decimals(view.ph.value, 2) + " towards " +
                           decimals(view.target.value, 2) + " in " +
                           words::volume(view.level.value, look.style);
  std::string out = toned(look, Tone::strong, wrapped(from, width, 2)) + "\n";
  std::string whence;
  add_whence(whence, "pH", view.ph);
  add_whence(whence, "pH wanted", view.target);
  add_whence(whence, "Level", view.level);
  if (!whence.empty()) out += toned(look, Tone::quiet, wrapped(whence, width)) + "\n";
  if (!view.step) return out + "Near enough: leave it.\n";
  const std::string bottle = view.step->acid ? "ph_down" : "ph_up";
  std::string dose = "Now " + ml_text(view.step->millilitres) + " of " + bottle;
  if (view.response)
    dose += ", for about pH " + decimals(*view.step->expected_ph, 2) + "; the whole way is about " +
            ml_text(view.step->all_ml) + ", by " + std::to_string(view.response->doses) +
            (view.response->doses == 1 ? " dose" : " doses") + " noted before (" +
            ml_text(view.response->ml_per_tenth_per_l * view.level.value) +
            " a tenth here). Small steps cannot overshoot.";
  else
    dose += ", a first try: how this solution answers is not known yet, and noted doses tell it.";
  out += wrapped(dose, width) + "\n" + numbered(kPhSteps, width);
  return out + "   neap measure " + bottle + "=" + ml_figure(view.step->millilitres) +
         "\n   neap measure ph=...\n";
}

std::vector<solution::Dosed> doses_noted(const std::vector<journal::MeasurementRow>& rows,
                                         bool acid, double level_l) {
  std::vector<solution::Dosed> doses;
  std::optional<journal::MeasurementRow> ph;
  double litres = level_l;
  std::optional<solution::Dosed> open;
  std::int64_t opened = 0;  // the tick of its first millilitres
  for (const journal::MeasurementRow& row : pours_first(rows)) {
    if (row.quantity == "level") litres = row.value;
    if (row.quantity == "ph") {
      if (open && row.taken.tick - opened <= kNearMs) {
        open->ph_after = row.value;
        doses.push_back(*open);
      }
      open.reset();
      ph = row;
    }
    const bool ours = row.quantity == (acid ? "ph_down" : "ph_up");
    const bool other = row.quantity == (acid ? "ph_up" : "ph_down") || row.quantity == "topup" ||
                       row.quantity == "change" || row.quantity.starts_with("stock");
    // A second dose of the same before the next pH adds to the first; anything else spoils it.
    if (ours && open) {
      open->millilitres += row.value;
    } else if (ours && ph && row.taken.tick - ph->taken.tick <= kNearMs) {
      open = solution::Dosed{row.value, ph->value, 0, litres};
      opened = row.taken.tick;
    }
    if (other) open.reset(), ph.reset();
  }
  return doses;
}

}  // namespace neap::client
