#include "daemon/identify/thermal.h"

#include <cmath>

#include "daemon/core/tent_model.h"
#include "daemon/core/tent_observer.h"

namespace neap::identify {
namespace {

constexpr std::size_t kWindow = 15;  // steps, 2.5 min
constexpr std::size_t kSide = 180;   // steps to each side of an edge
constexpr double kSpreadWh = 0.15;   // of a window's heat balance: 3 to 4 W
constexpr double kCapacitySpread = tent_model::kHeatWhPerKelvin;
constexpr double kHeatSpread = 300;  // W

struct Row {
  double change_k = 0;  // over the window
  double lost_wh = 0;   // by air and walls, less what devices gave
  std::size_t edge = 0;
  bool after = false;
};

// Heat that goes out and comes in over [from, to) apart from the tent's own; none without readings.
std::optional<double> lost_wh(const Record& record, const neap::Beliefs& labels, const FlowAt& flow,
                              const std::vector<Dryer>& dryers, std::size_t from, std::size_t to) {
  double sum = 0;
  for (std::size_t i = from; i < to; ++i) {
    const Step& step = record.steps[i];
    if (!step.canopy || !step.room || step.disturbed) return {};
    const double warmer = step.canopy->celsius - step.room->celsius;
    const double carried =
        tent_model::kAirDensity * flow(step.fan, warmer) * tent_model::kAirHeat / 3600 +
        tent_model::kWallWattPerKelvin;
    const double mist = step.humidifier * labels.humidifier_g_per_h;
    sum += carried * warmer - dryers[i].appliance_w + tent_model::kEvaporationWh * mist;
  }
  return sum * kStepHours;
}

std::vector<Dryer> dryers_of(const Record& record, const neap::Beliefs& labels) {
  std::vector<Dryer> dryers(record.steps.size());
  const bool here = labels.dehumidifier_place == DehumidifierPlace::tent;
  Dryer dryer;
  for (std::size_t i = 0; i < dryers.size(); ++i) {
    const Step& step = record.steps[i];
    if (here && step.canopy) {
      const double vapour =
          tent_model::saturation_kpa(step.canopy->celsius) * step.canopy->percent / 100;
      dryer.step(
          step.dehumidifier > 0,
          tent_model::drying_at(labels, {step.canopy->celsius, tent_model::g_per_kg(vapour)}),
          kStepSeconds);
    }
    dryers[i] = dryer;
  }
  return dryers;
}

double around(const Record& record, std::size_t i) {
  double sum = 0;
  for (std::size_t k = i - 3; k < i + 3; ++k) sum += record.steps[k].canopy->celsius;
  return sum / 6;
}

bool whole(const Record& record, std::size_t from, std::size_t to) {
  for (std::size_t i = from; i < to; ++i)
    if (!record.steps[i].canopy || !record.steps[i].room || record.steps[i].disturbed) return false;
  return true;
}

std::vector<Row> rows_of(const Record& record, const neap::Beliefs& labels, const FlowAt& flow,
                         std::size_t& edges) {
  const auto dryers = dryers_of(record, labels);
  std::vector<Row> rows;
  std::size_t last = 0;  // edge
  for (std::size_t i = kSide + kWindow; i + kSide + kWindow < record.steps.size(); ++i) {
    if ((record.steps[i].light > 0) == (record.steps[i - 1].light > 0)) continue;
    const bool alone = i - last > kSide;
    last = i;
    if (!alone || !whole(record, i - kSide - 3, i + kSide + 3)) continue;
    for (std::size_t from = i - kSide; from + kWindow <= i + kSide; from += kWindow) {
      const auto lost = lost_wh(record, labels, flow, dryers, from, from + kWindow);
      if (lost)
        rows.push_back(
            {around(record, from + kWindow) - around(record, from), *lost, edges, from >= i});
    }
    ++edges;
  }
  return rows;
}

}  // namespace

std::optional<Capacity> heat_capacity(const Record& record, const neap::Beliefs& labels,
                                      const FlowAt& flow) {
  std::size_t edges = 0;
  const std::vector<Row> rows = rows_of(record, labels, flow, edges);
  if (edges < 2) return {};
  const std::size_t unknowns = 1 + 2 * edges;
  const double hours = kWindow * kStepHours;
  Layout layout;
  for (const Row& row : rows) layout.block.push_back(static_cast<int>(row.edge));
  layout.prior_from = rows.size();
  const auto linearise = [&](const std::vector<double>& x) {
    Linearised at{{}, Matrix(rows.size() + unknowns, unknowns)};
    for (std::size_t i = 0; i < rows.size(); ++i) {
      const Row& row = rows[i];
      const std::size_t source = 1 + 2 * row.edge + (row.after ? 1 : 0);
      at.residual.push_back((x[0] * row.change_k + row.lost_wh - x[source] * hours) / kSpreadWh);
      at.slope.at(i, 0) = row.change_k / kSpreadWh;
      at.slope.at(i, source) = -hours / kSpreadWh;
    }
    for (std::size_t k = 0; k < unknowns; ++k) {
      const double middle = k == 0 ? tent_model::kHeatWhPerKelvin : 0;
      const double spread = k == 0 ? kCapacitySpread : kHeatSpread;
      at.residual.push_back((x[k] - middle) / spread);
      at.slope.at(rows.size() + k, k) = 1 / spread;
    }
    return at;
  };
  const auto fit = least_squares(linearise, layout, std::vector<double>(unknowns));
  if (!fit) return {};
  std::vector<double> gradient(unknowns);
  gradient[0] = 1;
  return Capacity{fit->unknown[0], std::sqrt(fit->variance_of(gradient)), static_cast<int>(edges),
                  static_cast<int>(edges) - 1};
}

}  // namespace neap::identify
