// Least squares with prior knowledge: residuals, each in times of its standard deviation, are made
// small by Gauss-Newton steps; what is unknown has a covariance afterwards.
//
// A variance is the greater of two: the inverse of the normal matrix (right
// when residuals are independent), and the cluster-robust 'sandwich' over blocks of time (Liang and
// Zeger 1986, Biometrika 73, 13-22), right too when residuals of one block hang together.
#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <vector>

namespace neap::identify {

// Dense and row by row.
class Matrix {
 public:
  Matrix() = default;
  Matrix(std::size_t rows, std::size_t columns)
      : rows_(rows), columns_(columns), items_(rows * columns) {}
  std::size_t rows() const { return rows_; }
  std::size_t columns() const { return columns_; }
  double& at(std::size_t row, std::size_t column) { return items_[row * columns_ + column]; }
  double at(std::size_t row, std::size_t column) const { return items_[row * columns_ + column]; }
  std::span<double> row(std::size_t i) { return {items_.data() + i * columns_, columns_}; }
  std::span<const double> row(std::size_t i) const {
    return {items_.data() + i * columns_, columns_};
  }

 private:
  std::size_t rows_ = 0, columns_ = 0;
  std::vector<double> items_;
};

// Inverse of a symmetric positive definite matrix (Cholesky); none when it is not.
std::optional<Matrix> inverse(const Matrix& symmetric);

struct Linearised {
  std::vector<double> residual;  // over its standard deviation
  Matrix slope;                  // of the residuals, by the unknowns
};
using Linearise = std::function<Linearised(const std::vector<double>& unknown)>;

// Rows from `prior_from` on are prior knowledge; the others belong to blocks of time.
struct Layout {
  std::size_t prior_from = 0;
  std::vector<int> block;  // of each row before prior_from; from 0 up
};

struct Fit {
  std::vector<double> unknown;
  Matrix covariance;  // inverse of the normal matrix
  Matrix robust;      // over blocks
  std::vector<double> residual;
  int blocks = 0;
  // Of a quantity with that gradient by the unknowns: the greater of the two.
  double variance_of(std::span<const double> gradient) const;
};

// Starts at `start`. None when the normal matrix cannot be inverted. Residuals beyond three
// standard deviations weigh less (Huber 1964, Ann. Math. Stat. 35, 73-101), so that an open door
// does not become a property of the tent.
std::optional<Fit> least_squares(const Linearise& linearise, const Layout& layout,
                                 std::vector<double> start);

// Half-width of a two-sided 90 % interval in standard deviations, Student's t with `degrees` of
// freedom (Cornish-Fisher expansion, Abramowitz and Stegun 26.7.5); `degrees` >= 1.
double t90(int degrees);

}  // namespace neap::identify
