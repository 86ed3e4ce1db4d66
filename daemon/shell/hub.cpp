#include "daemon/shell/hub.h"

#include <algorithm>
#include <mutex>

#include "daemon/words/words.h"

namespace neap::shell {
namespace {

// The next instant after `now` on the grid of whole periods, so that sensors of one period are read
// together and a restart does not shift the rhythm.
Instant next_on_grid(Instant now, Millis period) {
  const std::int64_t step = std::max<std::int64_t>(period.count(), 1);
  return instant(Millis{(tick_ms(now) / step + 1) * step});
}

drivers::Deliveries all_channels(const drivers::SensorSetup& setup, Fault fault) {
  drivers::Deliveries out;
  for (const drivers::ChannelUse& use : setup.uses) out.push({use.channel, std::nullopt, fault});
  return out;
}

// What is wrong and what to do about it: ": no such device; check its name, ...". `known` is what
// the driver itself can add.
std::string trouble(Fault fault, const drivers::SensorInfo& info, const std::string& known) {
  std::string text = ": " + std::string(words::name(fault));
  if (!known.empty()) return text + ": " + known;
  if (!words::cure(fault).empty()) text += "; " + std::string(words::cure(fault));
  if (fault == Fault::absent && !info.boot_line.empty()) text += ": " + std::string(info.boot_line);
  return text;
}

bool due_for_revival(int missed_reads) {
  const int over = missed_reads - Hub::kReviveAfter;
  return over >= 0 && over % Hub::kReviveEvery == 0;
}

}  // namespace

// What an edge rings. A driver that hangs at the end of the process keeps its watch, and the
// watch's thread rings on: it must find a bell without a clapper, never a hub that is gone.
struct Hub::Bell {
  std::mutex mutex;
  TimerQueue* loop = nullptr;

  void ring(Action action) {
    const std::scoped_lock lock(mutex);
    if (loop != nullptr) loop->post(std::move(action));
  }
  void cut() {
    const std::scoped_lock lock(mutex);
    loop = nullptr;
  }
};

// One sensor and its turn at the bus. Jobs on a strand hold it by shared_ptr.
struct Hub::Station {
  drivers::SensorSetup setup;
  const drivers::SensorInfo* info = nullptr;
  std::shared_ptr<drivers::Sensor> sensor;
  Strand* strand = nullptr;
  bool closed = false;
  std::uint64_t turn = 0;  // of the read under way; a late answer of an earlier one is dropped
  bool reading = false;    // between begin() and finish()
  bool lingering = false;  // the driver is still stuck in a read that was given up
  bool again = false;      // an edge came meanwhile
  int confirm_left = 0;
  int silent_reads = 0;  // in a row
  int missed_reads = 0;  // in a row, for whatever fault
  std::string known;     // what the driver itself knows of its last fault
  bool told_lost = false;
  TimerId next = 0;
  TimerId deadline = 0;
};

Hub::Hub(TimerQueue& timers, Strands& strands, LogSink log, std::function<void(Arrival)> arrived,
         Find find)
    : timers_(timers),
      strands_(strands),
      log_(std::move(log)),
      arrived_(std::move(arrived)),
      find_(find) {}

Hub::~Hub() { close(); }

void Hub::close() {
  if (bell_) bell_->cut();
  for (const auto& station : stations_) {
    station->closed = true;
    timers_.cancel(station->next);
    timers_.cancel(station->deadline);
  }
  stations_.clear();
}

void Hub::open(const drivers::Hardware& hardware, drivers::Context& context) {
  close();
  bell_ = std::make_shared<Bell>();
  bell_->loop = &timers_;
  PerPoint<bool> served;
  for (const drivers::SensorSetup& setup : hardware.sensors) {
    const drivers::SensorInfo* info = find_(setup.driver);
    if (info == nullptr) continue;  // the loader refuses unknown drivers
    auto station = std::make_shared<Station>();
    station->setup = setup;
    station->info = info;
    station->sensor = info->make(setup.params, context);
    station->strand = &strands_.get(info->strand(setup.params), info->simulated);
    for (const drivers::ChannelUse& use : setup.uses) served[use.point] = true;
    stations_.push_back(std::move(station));
  }
  for (const PointInfo& row : kPoints) {
    Sample& sample = image_[row.point];
    const bool known = sample.count > 0 && sample.fault != Fault::not_fitted;
    if (!served[row.point]) sample.value.reset();
    if (!served[row.point] || !known)
      sample.fault = served[row.point] ? Fault::never_read : Fault::not_fitted;
  }
  for (const auto& station : stations_) {
    const std::weak_ptr<Station> weak = station;
    station->sensor->watch([this, weak, bell = bell_] {
      bell->ring([this, weak] {
        if (const auto alive = weak.lock(); alive && !alive->closed) edge(alive);
      });
    });
    read(station);
  }
}

void Hub::edge(const std::shared_ptr<Station>& station) {
  station->confirm_left = kConfirmReads + 1;
  if (station->reading) {
    station->again = true;
    return;
  }
  read(station);
}

void Hub::read(const std::shared_ptr<Station>& station) {
  timers_.cancel(station->next);
  if (station->lingering) {
    settle(station, all_channels(station->setup, Fault::no_answer));
    return;
  }
  station->reading = true;
  const std::uint64_t turn = ++station->turn;
  // begin() and finish() may each take their deadline, and a neighbour on the strand as much.
  station->deadline = timers_.at(timers_.now() + 3 * station->info->deadline + seconds{1},
                                 [this, station, turn] { overdue(station, turn); });
  struct Began {
    drivers::Started answer;
    std::string known;
  };
  const auto began = std::make_shared<Began>();
  station->strand->post(
      [sensor = station->sensor, began] {
        began->answer = sensor->begin();
        began->known = sensor->trouble();
      },
      [this, station, turn, began] {
        station->known = began->known;
        started(station, turn, began->answer);
      });
}

void Hub::started(const std::shared_ptr<Station>& station, std::uint64_t turn,
                  drivers::Started answer) {
  if (station->closed) return;
  if (turn != station->turn || !station->reading) {  // given up meanwhile; the bus is free again
    station->lingering = false;
    return;
  }
  if (answer.fault != Fault::none) {
    finished(station, turn, all_channels(station->setup, answer.fault));
    return;
  }
  const auto fetch = [this, station, turn] {
    struct Fetched {
      drivers::Deliveries deliveries;
      std::string known;
    };
    const auto fetched = std::make_shared<Fetched>();
    station->strand->post(
        [sensor = station->sensor, fetched] {
          sensor->finish(fetched->deliveries);
          fetched->known = sensor->trouble();
        },
        [this, station, turn, fetched] {
          station->known = fetched->known;
          finished(station, turn, fetched->deliveries);
        });
  };
  if (answer.ready_after > Millis{0}) {
    timers_.cancel(station->deadline);
    station->deadline =
        timers_.at(timers_.now() + answer.ready_after + 2 * station->info->deadline + seconds{1},
                   [this, station, turn] { overdue(station, turn); });
    timers_.at(timers_.now() + answer.ready_after, [station, turn, fetch] {
      if (!station->closed && station->reading && turn == station->turn) fetch();
    });
  } else {
    fetch();
  }
}

void Hub::finished(const std::shared_ptr<Station>& station, std::uint64_t turn,
                   const drivers::Deliveries& deliveries) {
  if (station->closed) return;
  if (turn != station->turn || !station->reading) {
    station->lingering = false;
    return;
  }
  timers_.cancel(station->deadline);
  station->reading = false;
  settle(station, deliveries);
}

void Hub::overdue(const std::shared_ptr<Station>& station, std::uint64_t turn) {
  if (station->closed || !station->reading || turn != station->turn) return;
  station->reading = false;
  station->lingering = true;
  settle(station, all_channels(station->setup, Fault::no_answer));
}

void Hub::settle(const std::shared_ptr<Station>& station, const drivers::Deliveries& deliveries) {
  const Instant now = timers_.now();
  bool any_answer = false;
  bool contact_moved = false;
  bool worth_a_scan = false;
  Fault worst = Fault::none;
  for (const drivers::ChannelUse& use : station->setup.uses) {
    drivers::Delivery delivery{use.channel, std::nullopt, Fault::no_answer};
    for (const drivers::Delivery& candidate : deliveries)
      if (candidate.channel == use.channel) delivery = candidate;
    const bool moved = store(use.point, delivery, now);
    const bool contact = info(use.point).kind == PointKind::contact;
    contact_moved = contact_moved || (contact && moved);
    worth_a_scan = worth_a_scan || !contact;
    any_answer = any_answer || delivery.value.has_value() || !is_silence(delivery.fault);
    if (delivery.fault != Fault::none) worst = delivery.fault;
  }
  station->silent_reads = any_answer ? 0 : station->silent_reads + 1;
  station->missed_reads = worst == Fault::none ? 0 : station->missed_reads + 1;
  const bool lost =
      station->missed_reads >= kTellAfter || (station->told_lost && worst != Fault::none);
  if (lost != station->told_lost) {
    station->told_lost = lost;
    const std::string told = lost ? trouble(worst, *station->info, station->known) : " reads again";
    log_(lost ? LogLevel::warning : LogLevel::info, "sensor " + station->setup.name + told);
  }
  if (due_for_revival(station->missed_reads)) revive(station);
  const bool confirming = station->confirm_left > 0;
  if (contact_moved && !confirming) station->confirm_left = kConfirmReads + 1;
  if (station->confirm_left > 0) --station->confirm_left;
  schedule(station);
  arrived_(contact_moved || confirming ? Arrival::edge
           : worth_a_scan              ? Arrival::sample
                                       : Arrival::routine);
}

// The strand's next job is the revival, so that the read after it finds what has become of it.
void Hub::revive(const std::shared_ptr<Station>& station) {
  if (station->lingering) return;
  const auto tried = std::make_shared<bool>(false);
  station->strand->post([sensor = station->sensor, tried] { *tried = sensor->revive(); },
                        [this, station, tried] {
                          const bool first = station->missed_reads <= kReviveAfter;
                          if (*tried && first && !station->closed)
                            log_(LogLevel::info, "sensor " + station->setup.name + " was reset");
                        });
}

void Hub::schedule(const std::shared_ptr<Station>& station) {
  const Instant now = timers_.now();
  Millis period = station->setup.period;
  for (int i = kPatience; i <= station->silent_reads && period < kLongestBackOff; ++i)
    period = std::min(period * 2, std::max(kLongestBackOff, station->setup.period));
  Instant due = next_on_grid(now, period);
  if (station->missed_reads == 1 && !station->info->simulated)
    due = std::min(due, now + kAgainAfter);
  if (station->again) {
    station->again = false;
    due = now;
  } else if (station->confirm_left > 0) {
    due = std::min(due, now + kConfirmGap);
  }
  station->next = timers_.at(due, [this, station] {
    if (!station->closed) read(station);
  });
}

// Stores a delivery; true when the point now says something else than before.
bool Hub::store(Point point, const drivers::Delivery& delivery, Instant now) {
  Sample& sample = image_[point];
  const bool moved = sample.value != delivery.value || sample.fault != delivery.fault;
  sample.value = delivery.value;
  sample.fault = delivery.fault;
  sample.taken = now;
  ++sample.count;
  return moved;
}

}  // namespace neap::shell
