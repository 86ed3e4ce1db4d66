// May the tent be left alone for so long: what runs out, falls due or stands in the way, and what
// to do first.
#pragma once

#include <optional>
#include <string>
#include <vector>

namespace neap::client {

struct Due {
  std::string what;    // "the pH probe's calibration"
  double in_days = 0;  // 0 and less: now
};

// What is known of the tent; what nobody knows is absent.
struct AwayFacts {
  double days = 0;
  bool flood = false;  // under way: the level is not the reservoir's
  bool drips = false;  // nor is it until the tray of the last one has dripped out
  std::optional<double> level_l;
  std::optional<double> loss_l_per_day;
  double needed_l = 0;  // what the last flood must find, the minimum included
  double capacity_l = 0;
  std::optional<double> ec;                   // mS/cm, now
  std::optional<double> ec_most;              // of the stage's band
  std::optional<int> stage_days;              // until its days are over
  std::optional<double> condensed_l_per_day;  // by the dehumidifier, at the most it ran
  std::vector<std::string> stands;            // alarms of medium priority and higher, latches
  std::vector<Due> due;
};

enum class Grade { good, task, no };
struct AwayPoint {
  Grade grade = Grade::good;
  std::string text;
};
struct AwayVerdict {
  bool go = true;  // once the tasks are done
  std::vector<AwayPoint> points;
};

// Water that is lost leaves its salt: EC at return is EC V / (V - loss), by conservation of salt
// when plants take none up: the most it can be.
AwayVerdict judge_away(const AwayFacts& facts);

}  // namespace neap::client
