#include "daemon/identify/fit.h"

#include <algorithm>
#include <cmath>

namespace neap::identify {
namespace {

constexpr int kMostSteps = 25;
constexpr double kSettled = 1e-6;  // of a standard deviation
constexpr double kHuber = 3;

// The lower factor of a symmetric positive definite matrix, in place; false when it is not.
bool factor(Matrix& a) {
  const std::size_t n = a.rows();
  for (std::size_t j = 0; j < n; ++j) {
    for (std::size_t i = j; i < n; ++i) {
      double sum = a.at(i, j);
      for (std::size_t k = 0; k < j; ++k) sum -= a.at(i, k) * a.at(j, k);
      if (i == j) {
        if (!(sum > 0)) return false;
        a.at(j, j) = std::sqrt(sum);
      } else {
        a.at(i, j) = sum / a.at(j, j);
      }
    }
  }
  return true;
}

// x of L L^T x = b, in place.
void solve(const Matrix& lower, std::vector<double>& b) {
  const std::size_t n = lower.rows();
  for (std::size_t i = 0; i < n; ++i) {
    for (std::size_t k = 0; k < i; ++k) b[i] -= lower.at(i, k) * b[k];
    b[i] /= lower.at(i, i);
  }
  for (std::size_t i = n; i-- > 0;) {
    for (std::size_t k = i + 1; k < n; ++k) b[i] -= lower.at(k, i) * b[k];
    b[i] /= lower.at(i, i);
  }
}

double weight(double residual) {
  const double size = std::abs(residual);
  return size <= kHuber ? 1 : kHuber / size;
}

struct Normal {
  Matrix matrix;
  std::vector<double> right;
};

// Sums over rows; most of a row is zero, so that only what is not is multiplied.
Normal normal_of(const Linearised& at, std::size_t prior_from) {
  const std::size_t n = at.slope.columns();
  Normal normal{Matrix(n, n), std::vector<double>(n)};
  std::vector<std::size_t> set;
  for (std::size_t i = 0; i < at.residual.size(); ++i) {
    const auto row = at.slope.row(i);
    set.clear();
    for (std::size_t k = 0; k < n; ++k)
      if (row[k] != 0) set.push_back(k);
    const double w = i < prior_from ? weight(at.residual[i]) : 1;
    for (const std::size_t k : set) {
      normal.right[k] -= w * row[k] * at.residual[i];
      for (const std::size_t m : set) normal.matrix.at(k, m) += w * row[k] * row[m];
    }
  }
  return normal;
}

// A^-1 (sum of the blocks' scores squared + prior) A^-1.
Matrix sandwich(const Linearised& at, const Layout& layout, const Matrix& bread, int blocks) {
  const std::size_t n = bread.rows();
  Matrix scores(static_cast<std::size_t>(blocks), n);
  Matrix filling(n, n);
  for (std::size_t i = 0; i < at.residual.size(); ++i) {
    const auto row = at.slope.row(i);
    if (i < layout.prior_from) {
      const double r = weight(at.residual[i]) * at.residual[i];
      const auto block = static_cast<std::size_t>(layout.block[i]);
      for (std::size_t k = 0; k < n; ++k) scores.at(block, k) += row[k] * r;
    } else {
      for (std::size_t k = 0; k < n; ++k)
        if (row[k] != 0)
          for (std::size_t m = 0; m < n; ++m) filling.at(k, m) += row[k] * row[m];
    }
  }
  for (std::size_t b = 0; b < scores.rows(); ++b)
    for (std::size_t k = 0; k < n; ++k)
      for (std::size_t m = 0; m < n; ++m) filling.at(k, m) += scores.at(b, k) * scores.at(b, m);
  const auto times = [n](const Matrix& a, const Matrix& b) {
    Matrix product(n, n);
    for (std::size_t i = 0; i < n; ++i)
      for (std::size_t k = 0; k < n; ++k)
        for (std::size_t j = 0; j < n; ++j) product.at(i, j) += a.at(i, k) * b.at(k, j);
    return product;
  };
  return times(times(bread, filling), bread);
}

double form(const Matrix& a, std::span<const double> g) {
  double sum = 0;
  for (std::size_t i = 0; i < a.rows(); ++i)
    if (g[i] != 0)
      for (std::size_t j = 0; j < a.columns(); ++j) sum += g[i] * a.at(i, j) * g[j];
  return sum;
}

}  // namespace

std::optional<Matrix> inverse(const Matrix& symmetric) {
  Matrix lower = symmetric;
  if (!factor(lower)) return {};
  const std::size_t n = lower.rows();
  Matrix result(n, n);
  std::vector<double> unit(n);
  for (std::size_t j = 0; j < n; ++j) {
    std::fill(unit.begin(), unit.end(), 0.0);
    unit[j] = 1;
    solve(lower, unit);
    for (std::size_t i = 0; i < n; ++i) result.at(i, j) = unit[i];
  }
  return result;
}

double Fit::variance_of(std::span<const double> gradient) const {
  return std::max(form(covariance, gradient), form(robust, gradient));
}

std::optional<Fit> least_squares(const Linearise& linearise, const Layout& layout,
                                 std::vector<double> start) {
  Fit fit;
  fit.unknown = std::move(start);
  Linearised at;
  for (int step = 0; step < kMostSteps; ++step) {
    at = linearise(fit.unknown);
    Normal normal = normal_of(at, layout.prior_from);
    Matrix lower = normal.matrix;
    if (!factor(lower)) return {};
    solve(lower, normal.right);
    double moved = 0;
    for (std::size_t k = 0; k < fit.unknown.size(); ++k) {
      fit.unknown[k] += normal.right[k];
      moved = std::max(moved, std::abs(normal.right[k]) * std::sqrt(normal.matrix.at(k, k)));
    }
    if (moved < kSettled) break;
  }
  at = linearise(fit.unknown);
  auto bread = inverse(normal_of(at, layout.prior_from).matrix);
  if (!bread) return {};
  for (std::size_t i = 0; i < layout.prior_from; ++i)
    fit.blocks = std::max(fit.blocks, layout.block[i] + 1);
  fit.robust = sandwich(at, layout, *bread, fit.blocks);
  fit.covariance = std::move(*bread);
  fit.residual = std::move(at.residual);
  return fit;
}

double t90(int degrees) {
  const double z = 1.6448536;
  const double v = degrees;
  const double z3 = z * z * z, z5 = z3 * z * z;
  return z + (z3 + z) / (4 * v) + (5 * z5 + 16 * z3 + 3 * z) / (96 * v * v);
}

}  // namespace neap::identify
