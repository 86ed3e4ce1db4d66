// Quantities with their unit in the type. Inside the core a temperature cannot be handed over as a
// humidity; at the edges (YAML, SQL, JSON) the unit stands in the key instead.
#pragma once

#include <compare>

namespace neap {

template <class Tag>
struct Quantity {
  double value = 0;

  constexpr Quantity() = default;
  constexpr explicit Quantity(double v) : value(v) {}

  friend constexpr bool operator==(const Quantity&, const Quantity&) = default;
  friend constexpr auto operator<=>(const Quantity&, const Quantity&) = default;
  friend constexpr Quantity operator+(Quantity a, Quantity b) {
    return Quantity{a.value + b.value};
  }
  friend constexpr Quantity operator-(Quantity a, Quantity b) {
    return Quantity{a.value - b.value};
  }
  friend constexpr Quantity operator*(Quantity a, double k) { return Quantity{a.value * k}; }
  friend constexpr double operator/(Quantity a, Quantity b) { return a.value / b.value; }
};

using Celsius = Quantity<struct CelsiusTag>;        // air, leaf or solution temperature, degC
using PercentRh = Quantity<struct PercentRhTag>;    // relative humidity over water, 0..100
using Kilopascal = Quantity<struct KilopascalTag>;  // pressures and vapour pressure deficits
using Litres = Quantity<struct LitresTag>;          // solution volume
using GramsPerCubicMetre = Quantity<struct VapourDensityTag>;   // absolute humidity
using KilogramPerKilogram = Quantity<struct HumidityRatioTag>;  // water to dry air
using KilojoulePerKilogram = Quantity<struct EnthalpyTag>;      // of moist air, per kg dry air

// A part of full scale in thousandths, 0..1000. Levels, duties and dimming use it, never a
// floating fraction: it compares exactly, hashes alike everywhere and reads well in the journal.
struct Permille {
  int value = 0;
  friend constexpr bool operator==(const Permille&, const Permille&) = default;
  friend constexpr auto operator<=>(const Permille&, const Permille&) = default;
};
constexpr Permille kStopped{0};     // or closed, or dark
constexpr Permille kRunning{1000};  // or open, or full light

}  // namespace neap
