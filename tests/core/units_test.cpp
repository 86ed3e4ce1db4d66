#include "daemon/core/units.h"

#include <gtest/gtest.h>

#include <type_traits>

namespace neap {
namespace {

template <class A, class B>
concept Addable = requires(A a, B b) {
  a + b;
};
template <class A, class B>
concept Comparable = requires(A a, B b) {
  a < b;
};

TEST(Units, ATemperatureCannotBeTakenForAHumidity) {
  static_assert(!std::is_convertible_v<Celsius, PercentRh>);
  static_assert(!std::is_constructible_v<PercentRh, Celsius>);
  static_assert(!Addable<Celsius, PercentRh>);
  static_assert(!Comparable<Celsius, Kilopascal>);
  static_assert(Addable<Celsius, Celsius> && Comparable<Litres, Litres>);
}

TEST(Units, ANumberIsNoQuantityUntilItsUnitIsNamed) {
  static_assert(!std::is_convertible_v<double, Celsius>);
  static_assert(!std::is_convertible_v<Celsius, double>);
  static_assert(std::is_constructible_v<Celsius, double>);
}

TEST(Units, AQuantityCostsNoMoreThanItsNumber) {
  static_assert(sizeof(Celsius) == sizeof(double));
  static_assert(std::is_trivially_copyable_v<Celsius>);
}

TEST(Units, ArithmeticKeepsTheUnit) {
  EXPECT_EQ(Celsius{20} + Celsius{1.5}, Celsius{21.5});
  EXPECT_EQ(Celsius{20} - Celsius{1.5}, Celsius{18.5});
  EXPECT_EQ(Litres{4} * 2.5, Litres{10});
  EXPECT_EQ(Litres{10} / Litres{4}, 2.5);
  EXPECT_LT(Kilopascal{0.8}, Kilopascal{1.2});
}

TEST(Units, StoppedIsBelowEveryLevelAndRunningAboveIt) {
  EXPECT_LT(kStopped, Permille{1});
  EXPECT_GT(kRunning, Permille{999});
  EXPECT_EQ(kRunning, Permille{1000});
}

}  // namespace
}  // namespace neap
