// Which channel of the simulated tent's contacts is which point.
#pragma once

#include <array>

#include "daemon/core/points.h"
#include "drivers/simulated/probes.h"

namespace neap::campaign {

struct ContactRow {
  drivers::simulated::ContactChannel channel;
  Point point;
};
inline constexpr std::array kContacts{
    ContactRow{drivers::simulated::ContactChannel::tray_full, Point::tray_full},
    ContactRow{drivers::simulated::ContactChannel::tray_high, Point::tray_high},
    ContactRow{drivers::simulated::ContactChannel::tray_wet, Point::tray_wet},
    ContactRow{drivers::simulated::ContactChannel::reservoir_low, Point::reservoir_low},
    ContactRow{drivers::simulated::ContactChannel::leak_floor, Point::leak_floor},
    ContactRow{drivers::simulated::ContactChannel::leak_rack, Point::leak_rack},
    ContactRow{drivers::simulated::ContactChannel::leak_reservoir, Point::leak_reservoir},
    ContactRow{drivers::simulated::ContactChannel::pump_running, Point::pump_running},
    ContactRow{drivers::simulated::ContactChannel::bucket_full, Point::bucket_full},
    ContactRow{drivers::simulated::ContactChannel::air_pump_running, Point::air_pump_running},
    ContactRow{drivers::simulated::ContactChannel::board_undervoltage, Point::board_undervoltage},
    ContactRow{drivers::simulated::ContactChannel::pump_auto, Point::pump_auto},
    ContactRow{drivers::simulated::ContactChannel::button_pressed, Point::button_pressed},
};

constexpr bool is_float(Point point) {
  return point == Point::tray_full || point == Point::tray_high || point == Point::tray_wet ||
         point == Point::reservoir_low;
}

}  // namespace neap::campaign
