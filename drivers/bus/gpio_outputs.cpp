#include <linux/gpio.h>

#include <algorithm>
#include <cerrno>

#include "drivers/bus/gpio.h"

namespace neap::drivers::gpio {
namespace {

constexpr std::string_view kConsumer = "neap";

constexpr std::uint64_t bit(std::size_t index) { return std::uint64_t{1} << index; }

}  // namespace

// Lines that were asked for together; the kernel lets go of them when the last of their drivers has
// gone.
struct OutputChip::Request {
  Descriptor descriptor;
};

struct OutputChip::Slot {
  Place place;
  bool active_low = false;
  bool first = false;
  std::optional<std::uint32_t> offset;  // of the last look
  std::shared_ptr<Request> request;     // none: the line is not ours (yet, or any more)
  std::size_t index = 0;                // in the request
  Refusal refusal;
};

class OutputChip::Line final : public OutputLine {
 public:
  Line(std::shared_ptr<OutputChip> chip, std::shared_ptr<Slot> slot)
      : chip_(std::move(chip)), slot_(std::move(slot)) {}

  Fault write(bool active) override {
    if (!slot_->request) chip_->ask_for_lines();
    if (!slot_->request) return slot_->refusal.fault;
    gpio_v2_line_values values{};
    values.mask = bit(slot_->index);
    values.bits = active ? values.mask : 0;
    const int error = chip_->machine_.system->call(slot_->request->descriptor.get(),
                                                   GPIO_V2_LINE_SET_VALUES_IOCTL, &values);
    return chip_->done(*slot_, error, "cannot be driven") ? Fault::none : slot_->refusal.fault;
  }

  std::optional<bool> read() override {
    if (!slot_->request) return std::nullopt;
    gpio_v2_line_values values{};
    values.mask = bit(slot_->index);
    const int error = chip_->machine_.system->call(slot_->request->descriptor.get(),
                                                   GPIO_V2_LINE_GET_VALUES_IOCTL, &values);
    if (!chip_->done(*slot_, error, "cannot be read back")) return std::nullopt;
    return (values.bits & values.mask) != 0;
  }

  std::string trouble() const override { return slot_->refusal.why; }

 private:
  std::shared_ptr<OutputChip> chip_;
  std::shared_ptr<Slot> slot_;
};

OutputChip::OutputChip(Machine machine, Place chip)
    : machine_(std::move(machine)), chip_(std::move(chip)) {}
OutputChip::~OutputChip() = default;

std::unique_ptr<OutputLine> OutputChip::add(const Place& place, bool active_low, bool first) {
  const std::lock_guard lock(mutex_);
  auto slot = std::make_shared<Slot>();
  slot->place = place;
  slot->active_low = active_low;
  slot->first = first;
  slots_.push_back(slot);
  return std::make_unique<Line>(shared_from_this(), std::move(slot));
}

// Of drivers that still live.
OutputChip::Slots OutputChip::slots() {
  const std::lock_guard lock(mutex_);
  std::erase_if(slots_, [](const std::weak_ptr<Slot>& slot) { return slot.expired(); });
  Slots out;
  for (const auto& weak : slots_)
    if (auto slot = weak.lock()) out.push_back(std::move(slot));
  return out;
}

// The lines of `wanted` that are on the chip, each line once.
OutputChip::Slots OutputChip::resolve(const Chip& chip, const Slots& wanted) {
  Slots known = slots();
  std::erase_if(known, [](const auto& slot) { return slot->request == nullptr; });
  Slots sound;
  for (const auto& slot : wanted) {
    slot->offset = find_line(machine_, chip, slot->place, slot->refusal);
    if (!slot->offset) continue;
    const auto twin = std::find_if(known.begin(), known.end(), [&](const auto& other) {
      return other->offset == slot->offset;
    });
    if (twin != known.end()) {
      slot->refusal = {Fault::taken, line_key(slot->place) + " and " + line_key((*twin)->place) +
                                         " are one line; give one output another"};
      continue;
    }
    known.push_back(slot);
    sound.push_back(slot);
  }
  return sound;
}

// One request, every line at its first level. 0, or the errno.
int OutputChip::ask(const Chip& chip, const Slots& sound) {
  gpio_v2_line_request request{};
  kConsumer.copy(request.consumer, sizeof request.consumer - 1);
  request.config.flags = GPIO_V2_LINE_FLAG_OUTPUT;
  std::uint64_t low = 0;
  std::uint64_t levels = 0;
  for (const auto& slot : sound) {
    const std::size_t index = request.num_lines++;
    request.offsets[index] = *slot->offset;
    if (slot->active_low) low |= bit(index);
    if (slot->first) levels |= bit(index);
  }
  auto& first = request.config.attrs[request.config.num_attrs++];
  first.attr.id = GPIO_V2_LINE_ATTR_ID_OUTPUT_VALUES;
  first.attr.values = levels;
  first.mask = bit(request.num_lines) - 1;
  if (low != 0) {
    auto& polarity = request.config.attrs[request.config.num_attrs++];
    polarity.attr.id = GPIO_V2_LINE_ATTR_ID_FLAGS;
    polarity.attr.flags = GPIO_V2_LINE_FLAG_OUTPUT | GPIO_V2_LINE_FLAG_ACTIVE_LOW;
    polarity.mask = low;
  }
  const int error = machine_.system->call(chip.descriptor.get(), GPIO_V2_GET_LINE_IOCTL, &request);
  if (error != 0) return error;
  const auto granted = std::make_shared<Request>();
  granted->descriptor = Descriptor{request.fd};
  for (std::size_t index = 0; index < sound.size(); ++index) {
    sound[index]->request = granted;
    sound[index]->index = index;
    sound[index]->refusal = {};
  }
  return 0;
}

void OutputChip::ask_for_lines() {
  Slots wanted = slots();
  std::erase_if(wanted, [](const auto& slot) { return slot->request != nullptr; });
  Refusal refusal;
  const auto chip = find_chip(machine_, chip_, refusal);
  if (!chip) {
    for (const auto& slot : wanted) slot->refusal = refusal;
    return;
  }
  Slots sound = resolve(*chip, wanted);
  if (sound.empty()) return;
  int error = ask(*chip, sound);
  if (error == EBUSY) {  // whoever holds one of them does not keep us from the others
    std::erase_if(sound, [&](const auto& slot) {
      return is_held(machine_, *chip, slot->place, *slot->offset, slot->refusal);
    });
    if (sound.empty()) return;
    error = ask(*chip, sound);
  }
  if (error == 0) return;
  for (const auto& slot : sound)
    slot->refusal = refused(slot->place, "cannot be had as an output", error);
}

// A call on the line of `slot` gave `error`. When the chip is gone its lines are let go of, so that
// the next write looks for it anew: it may come back as another number. Its lines then start at
// their first level, and read() has nothing until they do.
bool OutputChip::done(Slot& slot, int error, const char* what) {
  slot.refusal = error == 0 ? Refusal{} : refused(slot.place, what, error);
  if (error != ENODEV) return error == 0;
  const std::shared_ptr<Request> lost = slot.request;
  for (const auto& other : slots()) {
    if (other->request != lost) continue;
    other->request.reset();
    other->refusal = refused(other->place, what, error);
  }
  return false;
}

std::shared_ptr<OutputChip> output_chip(Context& context, const Place& place) {
  if (!context.gpio_outputs) context.gpio_outputs = std::make_shared<OutputChips>();
  auto& known = context.gpio_outputs->by_key[chip_key(place)];
  auto chip = known.lock();
  if (!chip) {
    chip = std::make_shared<OutputChip>(Machine(context), place);
    known = chip;
  }
  return chip;
}

}  // namespace neap::drivers::gpio
