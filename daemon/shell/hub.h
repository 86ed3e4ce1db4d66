// The sensor hub: does once, for every driver, what a driver may not do. It opens the sensors,
// keeps their schedule (begin > ready_after > finish on the bus's strand), stamps what arrives,
// maps channels to points, backs off from a device that does not answer, and reads a contact again
// at once when it moved. It judges nothing: range, rate, age and agreement are the core's.
//
// Schedule: one read at start, then on a grid of whole periods of tick. After kPatience reads
// without an answer the period doubles with each further one, to kLongestBackOff. A read that is
// over its deadline counts as no answer and is not waited for.
//
// What is done for a sensor that fails, step by step: it is read again after kAgainAfter; from the
// third failed read in a row it is revived (Sensor::revive: reset of the chip, its bus set up anew)
// before the next; what stays silent makes its point bad by age, and where settings hang it on the
// sensor rail the core takes its supply away for a moment (core/rail.h). Simulated sensors have no
// bus to be disturbed and no second try.
#pragma once

#include <functional>
#include <memory>
#include <vector>

#include "daemon/core/points.h"
#include "daemon/core/reading.h"
#include "daemon/shell/log.h"
#include "daemon/shell/strands.h"
#include "daemon/shell/timers.h"
#include "drivers/hardware.h"

namespace neap::shell {

// What a delivery means for the scan.
enum class Arrival : std::uint8_t {
  routine,  // a contact that says what it said before: nothing to decide
  sample,   // an analog value or a fault: decide at the next whole second
  edge,     // a contact changed, or is being read again because it did: decide now
};

class Hub {
 public:
  static constexpr int kPatience = 5;
  // One lost read is weather; this many in a row are told, once, and so is the first good one
  // after.
  static constexpr int kTellAfter = 3;
  static constexpr Millis kLongestBackOff = minutes{5};
  // A relay's switching disturbs a transfer for a fraction of a second (core/limits.h,
  // kSwitchBlank); a second later the bus is quiet.
  static constexpr Millis kAgainAfter = seconds{1};
  // Reviving is tried at the third failed read, and at each sixth after that: half an hour apart
  // for a sensor that is asked every five minutes.
  static constexpr int kReviveAfter = 3;
  static constexpr int kReviveEvery = 6;
  // After a contact changed it is read twice more, so that the scan sees three samples within the
  // leak window of 300 ms (core/limits.h).
  static constexpr Millis kConfirmGap{100};
  static constexpr int kConfirmReads = 2;

  // `find` is the registry; tests have drivers of their own.
  using Find = const drivers::SensorInfo* (*)(std::string_view);
  Hub(TimerQueue& timers, Strands& strands, LogSink log, std::function<void(Arrival)> arrived,
      Find find = drivers::find_sensor_driver);
  ~Hub();
  Hub(const Hub&) = delete;
  Hub& operator=(const Hub&) = delete;

  // Opens the sensors of `hardware` in place of those open now and starts reading. Sample counts go
  // on; points that are no longer served fall back to Fault::not_fitted.
  void open(const drivers::Hardware& hardware, drivers::Context& context);
  void close();

  // What every point said last. Points without a sensor: Fault::not_fitted.
  const PerPoint<Sample>& image() const { return image_; }

 private:
  struct Station;
  struct Bell;
  void read(const std::shared_ptr<Station>& station);
  void started(const std::shared_ptr<Station>& station, std::uint64_t turn,
               drivers::Started answer);
  void finished(const std::shared_ptr<Station>& station, std::uint64_t turn,
                const drivers::Deliveries& deliveries);
  void overdue(const std::shared_ptr<Station>& station, std::uint64_t turn);
  void settle(const std::shared_ptr<Station>& station, const drivers::Deliveries& deliveries);
  void revive(const std::shared_ptr<Station>& station);
  void schedule(const std::shared_ptr<Station>& station);
  void edge(const std::shared_ptr<Station>& station);
  bool store(Point point, const drivers::Delivery& delivery, Instant now);

  TimerQueue& timers_;
  Strands& strands_;
  LogSink log_;
  std::function<void(Arrival)> arrived_;
  Find find_;
  PerPoint<Sample> image_;
  std::vector<std::shared_ptr<Station>> stations_;
  std::shared_ptr<Bell> bell_;  // of the sensors that are open
};

}  // namespace neap::shell
