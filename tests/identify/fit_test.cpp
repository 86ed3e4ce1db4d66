// Goal: the arithmetic under daemon/identify. Method: published values and closed forms.
#include "daemon/identify/fit.h"

#include <gtest/gtest.h>

#include <cmath>

namespace neap::identify {
namespace {

// Student's t, 95 % one-sided: Abramowitz and Stegun, table 26.10.
TEST(Fit, TheIntervalIsStudentsT) {
  EXPECT_NEAR(t90(5), 2.015, 0.01);
  EXPECT_NEAR(t90(11), 1.796, 0.002);
  EXPECT_NEAR(t90(30), 1.697, 0.001);
  EXPECT_NEAR(t90(1000), 1.646, 0.001);
}

TEST(Fit, AnInverseTimesItsMatrixIsOne) {
  Matrix a(3, 3);
  const double items[3][3] = {{4, 1, 0.5}, {1, 3, -0.7}, {0.5, -0.7, 2}};
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) a.at(i, j) = items[i][j];
  const auto b = inverse(a);
  ASSERT_TRUE(b);
  for (std::size_t i = 0; i < 3; ++i)
    for (std::size_t j = 0; j < 3; ++j) {
      double sum = 0;
      for (std::size_t k = 0; k < 3; ++k) sum += a.at(i, k) * b->at(k, j);
      EXPECT_NEAR(sum, i == j ? 1 : 0, 1e-12);
    }
}

TEST(Fit, AMatrixThatIsNotPositiveHasNoInverse) {
  Matrix a(2, 2);
  a.at(0, 0) = a.at(1, 1) = 1;
  a.at(0, 1) = a.at(1, 0) = 2;
  EXPECT_FALSE(inverse(a));
}

struct Line {
  std::vector<double> y;
  Linearised operator()(const std::vector<double>& x) const {
    Linearised at{{}, Matrix(y.size() + 2, 2)};
    for (std::size_t i = 0; i < y.size(); ++i) {
      const auto t = static_cast<double>(i);
      at.residual.push_back(x[0] + x[1] * t - y[i]);
      at.slope.at(i, 0) = 1;
      at.slope.at(i, 1) = t;
    }
    for (std::size_t k = 0; k < 2; ++k) {  // next to nothing is known beforehand
      at.residual.push_back(x[k] / 1e4);
      at.slope.at(y.size() + k, k) = 1e-4;
    }
    return at;
  }
};

Layout blocks_of(std::size_t rows, int length) {
  Layout layout;
  for (std::size_t i = 0; i < rows; ++i) layout.block.push_back(static_cast<int>(i) / length);
  layout.prior_from = rows;
  return layout;
}

// The variance of a line's slope is s^2 / sum (t - mean t)^2: any textbook on regression.
TEST(Fit, AStraightLineHasTheTextbooksSlopeAndVariance) {
  std::vector<double> y;
  for (int i = 0; i < 40; ++i) y.push_back(3 - 0.25 * i + (i % 2 == 0 ? 1.0 : -1.0));
  const auto fit = least_squares(Line{y}, blocks_of(40, 1), {0, 0});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->unknown[1], -0.25, 0.01);
  const double spread = 40 * (40.0 * 40 - 1) / 12;
  EXPECT_NEAR(fit->covariance.at(1, 1), 1 / spread, 1e-6);
}

// Ten equal errors in a row are one error: the sandwich sees ten times the variance of a mean.
TEST(Fit, ErrorsThatHangTogetherWidenTheInterval) {
  std::vector<double> y;
  for (int i = 0; i < 400; ++i) y.push_back(i / 10 % 2 == 0 ? 1.0 : -1.0);
  const auto fit = least_squares(Line{y}, blocks_of(400, 10), {0, 0});
  ASSERT_TRUE(fit);
  const std::vector<double> middle{1, 199.5};
  double alone = 0;
  for (std::size_t i = 0; i < 2; ++i)
    for (std::size_t j = 0; j < 2; ++j) alone += middle[i] * fit->covariance.at(i, j) * middle[j];
  EXPECT_NEAR(alone, 1.0 / 400, 1e-5);
  EXPECT_NEAR(fit->variance_of(middle), 10.0 / 400, 0.1 * 10 / 400);
}

TEST(Fit, OneWildReadingBendsALineLittle) {
  std::vector<double> y;
  for (int i = 0; i < 40; ++i) y.push_back(2.0 + (i % 2 == 0 ? 1.0 : -1.0));
  y[39] += 100;
  const auto fit = least_squares(Line{y}, blocks_of(40, 1), {0, 0});
  ASSERT_TRUE(fit);
  EXPECT_NEAR(fit->unknown[1], 0, 0.03);
}

}  // namespace
}  // namespace neap::identify
