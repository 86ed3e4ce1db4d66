#include "daemon/core/points.h"

#include <gtest/gtest.h>

#include <fstream>
#include <regex>
#include <set>
#include <string>

#include "tests/places.h"

namespace neap {
namespace {

// The enumerators of an enum class as its header lists them: name and number.
std::vector<std::pair<std::string, int>> enumerators(const std::string& header,
                                                     const std::string& name) {
  std::ifstream file{places::in_project("") + header};
  const std::string text{std::istreambuf_iterator<char>{file}, {}};
  const std::size_t begin = text.find("enum class " + name);
  const std::string body = text.substr(begin, text.find("};", begin) - begin);
  std::vector<std::pair<std::string, int>> found;
  const std::regex line{R"(\n\s*(\w+) = (\d+),)"};
  for (std::sregex_iterator it{body.begin(), body.end(), line}, end; it != end; ++it)
    found.emplace_back((*it)[1], std::stoi((*it)[2]));
  return found;
}

TEST(Points, EveryEnumeratorHasItsOwnRow) {
  const auto listed = enumerators("daemon/core/points.h", "Point ");
  ASSERT_GT(listed.size(), 20U);
  EXPECT_EQ(listed.size(), kPoints.size());
  for (const auto& [name, number] : listed) {
    const auto point = static_cast<Point>(number);
    EXPECT_EQ(info(point).point, point) << name;
    EXPECT_LT(slot(point), kPointSlots) << name;
  }
}

TEST(Points, NumbersAndNamesAreUnique) {
  std::set<Point> numbers;
  std::set<std::string_view> names, titles;
  for (const PointInfo& row : kPoints) {
    EXPECT_TRUE(numbers.insert(row.point).second) << row.name;
    EXPECT_TRUE(names.insert(row.name).second) << row.name;
    EXPECT_TRUE(titles.insert(row.title).second) << row.title;
  }
}

// The journal and settings of growers hold these: a change here breaks what they have stored.
TEST(Points, StoredNumbersStay) {
  EXPECT_EQ(static_cast<int>(Point::canopy_temperature), 1);
  EXPECT_EQ(static_cast<int>(Point::reservoir_level), 11);
  EXPECT_EQ(static_cast<int>(Point::leak_floor), 16);
  EXPECT_EQ(static_cast<int>(Point::canopy_vpd), 32);
  EXPECT_EQ(static_cast<int>(Contact::set), 1);
  EXPECT_EQ(static_cast<int>(Contact::faulty), 3);
}

TEST(Points, LimitsLeaveRoomAndTheQuantumDividesThem) {
  for (const PointInfo& row : kPoints) {
    EXPECT_LT(row.lowest, row.highest) << row.name;
    EXPECT_GT(row.quantum, 0) << row.name;
    EXPECT_GE(row.max_step, 0) << row.name;
    EXPECT_LT(row.highest / row.quantum, 2147483647.0) << row.name << ": the journal stores it so";
  }
}

TEST(Points, ContactsHaveNoUnitAndEveryOtherPointHasOne) {
  for (const PointInfo& row : kPoints)
    EXPECT_EQ(row.unit.empty(), row.kind == PointKind::contact) << row.name;
}

TEST(Points, AreFoundByNameAndOnlyByTheWholeName) {
  for (const PointInfo& row : kPoints) {
    ASSERT_NE(find_point(row.name), nullptr);
    EXPECT_EQ(find_point(row.name)->point, row.point);
  }
  EXPECT_EQ(find_point("canopy"), nullptr);
  EXPECT_EQ(find_point("canopy.temperature "), nullptr);
  EXPECT_EQ(find_point(""), nullptr);
}

TEST(Points, EachPointHasItsOwnPlace) {
  PerPoint<int> items;
  int n = 0;
  for (const PointInfo& row : kPoints) items[row.point] = ++n;
  n = 0;
  for (const PointInfo& row : kPoints) EXPECT_EQ(items[row.point], ++n) << row.name;
}

}  // namespace
}  // namespace neap
