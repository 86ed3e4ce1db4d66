// Chip models behind /dev/i2c-uspace, answered for the kernel's own drivers: an SHT4x at 0x44 and
// an MCP4725 at 0x60. Values and faults are lines `key=value` in /run/chips.conf, read at each
// transfer: temperature, humidity, nack (an address), badcrc (1), hang (an address).
//
// SHT4x: Sensirion datasheet version 6.6, table 8 (commands), section 4.4 (CRC-8, 0x31, 0xFF),
// section 4.6 (T = -45 + 175 S/65535, RH = -6 + 125 S/65535). MCP4725: Microchip DS22039D, figures
// 6-1 (fast write) and 6-3 (read).
#include <fcntl.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstdlib>
#include <fstream>
#include <map>
#include <string>
#include <vector>

namespace {

using Bytes = std::vector<std::uint8_t>;

// As in tests/hardware/kernel/i2c-uspace.c.
constexpr int kMessages = 8;
constexpr int kBytes = 512;
constexpr std::uint16_t kRead = 1;
struct Message {
  std::uint16_t address, flags, length, at;
};
struct Request {
  std::uint32_t seq, count;
  Message messages[kMessages];
  std::uint8_t data[kBytes];
};
struct Reply {
  std::uint32_t seq;
  std::int32_t result;
  std::uint8_t data[kBytes];
};

std::map<std::string, std::string> settings() {
  std::map<std::string, std::string> out;
  std::ifstream file("/run/chips.conf");
  for (std::string line; std::getline(file, line);)
    if (const std::size_t at = line.find('='); at != std::string::npos)
      out[line.substr(0, at)] = line.substr(at + 1);
  return out;
}

double number(const std::string& key) {
  const auto all = settings();
  const auto found = all.find(key);
  return found == all.end() ? 0 : std::strtod(found->second.c_str(), nullptr);
}
bool is_address(const std::string& key, std::uint16_t address) {
  const auto all = settings();
  const auto found = all.find(key);
  return found != all.end() && std::strtol(found->second.c_str(), nullptr, 0) == address;
}

std::uint8_t crc8(const std::uint8_t* bytes, int count) {
  std::uint8_t crc = 0xFF;
  for (int i = 0; i < count; ++i) {
    crc ^= bytes[i];
    for (int bit = 0; bit < 8; ++bit)
      crc = static_cast<std::uint8_t>(crc & 0x80 ? (crc << 1) ^ 0x31 : crc << 1);
  }
  return crc;
}

class Chip {
 public:
  virtual ~Chip() = default;
  virtual bool write(const Bytes& bytes) = 0;
  virtual bool read(std::uint8_t* out, int count) = 0;
};

class Sht4x final : public Chip {
 public:
  bool write(const Bytes& bytes) override {
    if (bytes.empty()) return false;
    switch (bytes[0]) {
      case 0xFD:  // measure, high, medium and low repeatability
      case 0xF6:
      case 0xE0:
        answer(word((number("temperature") + 45) / 175), word((number("humidity") + 6) / 125));
        if (number("badcrc") != 0) out_[2] ^= 0x55;
        return true;
      case 0x89:  // serial number
        answer(0x1234, 0x5678);
        return true;
      case 0x94:  // soft reset
        out_.clear();
        return true;
      default:
        return false;
    }
  }
  bool read(std::uint8_t* out, int count) override {
    if (out_.empty()) return false;
    for (int i = 0; i < count; ++i)
      out[i] = static_cast<std::size_t>(i) < out_.size() ? out_[static_cast<std::size_t>(i)] : 0xFF;
    return true;
  }

 private:
  static std::uint16_t word(double part) {
    return static_cast<std::uint16_t>(std::lround(part * 65535));
  }
  void answer(std::uint16_t first, std::uint16_t second) {
    out_ = {static_cast<std::uint8_t>(first >> 8),  static_cast<std::uint8_t>(first),  0,
            static_cast<std::uint8_t>(second >> 8), static_cast<std::uint8_t>(second), 0};
    out_[2] = crc8(out_.data(), 2);
    out_[5] = crc8(out_.data() + 3, 2);
  }
  Bytes out_;
};

// What it puts out stands in /run/dac, for the test.
class Mcp4725 final : public Chip {
 public:
  bool write(const Bytes& bytes) override {
    if (bytes.size() != 2) return bytes.size() == 3;  // 3: into its EEPROM
    output_ = static_cast<std::uint16_t>((bytes[0] & 0x0F) << 8 | bytes[1]);
    std::ofstream("/run/dac") << output_ << "\n";
    return true;
  }
  bool read(std::uint8_t* out, int count) override {
    const std::array<std::uint8_t, 5> all{0xC0, static_cast<std::uint8_t>(output_ >> 4),
                                          static_cast<std::uint8_t>(output_ << 4), 0, 0};
    for (int i = 0; i < count; ++i) out[i] = i < 5 ? all[static_cast<std::size_t>(i)] : 0xFF;
    return true;
  }

 private:
  std::uint16_t output_ = 0;
};

// One transfer. False: no answer at all, as a hung bus gives none.
bool serve(std::map<int, Chip*>& bus, const Request& request, Reply& reply) {
  reply.seq = request.seq;
  reply.result = static_cast<std::int32_t>(request.count);
  for (std::uint32_t i = 0; i < request.count; ++i) {
    const Message& message = request.messages[i];
    if (is_address("hang", message.address)) return false;
    const auto chip = bus.find(message.address);
    bool taken = chip != bus.end() && !is_address("nack", message.address);
    if (taken && (message.flags & kRead) != 0)
      taken = chip->second->read(reply.data + message.at, message.length);
    else if (taken)
      taken = chip->second->write(
          Bytes(request.data + message.at, request.data + message.at + message.length));
    if (!taken) {
      reply.result = -ENXIO;
      return true;
    }
  }
  return true;
}

}  // namespace

int main() {
  const int bus_file = ::open("/dev/i2c-uspace", O_RDWR);
  if (bus_file < 0) {
    std::perror("/dev/i2c-uspace");
    return 1;
  }
  std::ofstream("/run/i2c_bus") << ::ioctl(bus_file, 0) << "\n";
  if (::fork() != 0) ::_exit(0);
  ::setsid();
  Sht4x probe;
  Mcp4725 dac;
  std::map<int, Chip*> bus{{0x44, &probe}, {0x60, &dac}};
  static Request request;
  static Reply reply;
  while (true) {
    const ssize_t got = ::read(bus_file, &request, sizeof request);
    if (got < 0 && errno == EINTR) continue;
    if (got != sizeof request) return 1;
    reply = {};
    if (serve(bus, request, reply) && ::write(bus_file, &reply, sizeof reply) != sizeof reply)
      return 1;
  }
}
