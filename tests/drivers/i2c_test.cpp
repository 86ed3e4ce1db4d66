// Buses found by name, the kernel's errors, and what may be done to a bus that hangs. Transfers on
// a real adapter are tests/hardware's.
#include "drivers/bus/i2c.h"

#include <gtest/gtest.h>

#include <array>

#include "drivers/bus/errors.h"
#include "tests/drivers/fake_kernel.h"
#include "tests/drivers/temporary_folder.h"

namespace neap::drivers {
namespace {

const std::string kParent = "devices/platform/soc/fe804000.i2c";

// One adapter of a board's processor, as /sys shows it, and a second one of the display.
test::FakeKernel board() {
  test::FakeKernel kernel;
  kernel.files["class/i2c-dev/i2c-1/name"] = "bcm2835 (i2c@7e804000)";
  kernel.links["class/i2c-dev/i2c-1"] = kParent + "/i2c-1/i2c-dev/i2c-1";
  kernel.files["class/i2c-dev/i2c-20/name"] = "bcm2835 (i2c@7ef04500)";
  kernel.links["class/i2c-dev/i2c-20"] = "devices/platform/soc/fef04500.i2c/i2c-20/i2c-dev/i2c-20";
  kernel.links[kParent + "/driver"] = "bus/platform/drivers/i2c-bcm2835";
  kernel.files["bus/platform/drivers/i2c-bcm2835/unbind"] = "";
  kernel.files["bus/platform/drivers/i2c-bcm2835/bind"] = "";
  return kernel;
}

TEST(I2cBus, IsFoundByNumberByAdapterNameAndByDevicePath) {
  auto kernel = board();
  for (const char* bus : {"1", "bcm2835 (i2c@7e804000)", "fe804000.i2c", "soc/fe804000.i2c"})
    EXPECT_EQ(i2c::find_bus(kernel, bus).name, "i2c-1") << bus;
  EXPECT_EQ(i2c::find_bus(kernel, "fef04500.i2c").name, "i2c-20");
}

TEST(I2cBus, ThatIsNotThereOrFitsTwiceIsAFault) {
  auto kernel = board();
  EXPECT_EQ(i2c::find_bus(kernel, "804000.i2c").fault, Fault::absent) << "no whole component";
  EXPECT_EQ(i2c::find_bus(kernel, "soc").fault, Fault::ambiguous);
  EXPECT_EQ(i2c::find_bus(kernel, "").fault, Fault::absent);
}

TEST(I2cTransfer, WithoutADeviceFileIsAbsent) {
  const test::TemporaryFolder dev;
  std::array<std::uint8_t, 2> bytes{};
  EXPECT_EQ(i2c::transfer(dev / "i2c-1", 0x44, bytes, {}), Fault::absent);
}

TEST(I2cTransfer, OnAFileThatIsNoBusIsNoAnswer) {
  const test::TemporaryFolder dev;
  dev.write("i2c-1", "");
  std::array<std::uint8_t, 2> bytes{};
  EXPECT_EQ(i2c::transfer(dev / "i2c-1", 0x44, bytes, {}), Fault::no_answer);
}

TEST(I2cTransfer, LongerThanAnyChipSpeaksIsRefused) {
  const test::TemporaryFolder dev;
  std::array<std::uint8_t, i2c::kLongest + 1> bytes{};
  EXPECT_EQ(i2c::transfer(dev / "i2c-1", 0x44, {}, bytes), Fault::out_of_range);
}

TEST(KernelErrors, HaveTheirMeaningForAGrower) {
  EXPECT_EQ(fault_of(ENXIO), Fault::no_answer);      // address not acknowledged
  EXPECT_EQ(fault_of(EREMOTEIO), Fault::no_answer);  // the same on the adapter of a Pi
  EXPECT_EQ(fault_of(EIO), Fault::no_answer);
  EXPECT_EQ(fault_of(ETIMEDOUT), Fault::hung);
  EXPECT_EQ(fault_of(EBUSY), Fault::taken);
  EXPECT_EQ(fault_of(EACCES), Fault::denied);
  EXPECT_EQ(fault_of(EPERM), Fault::denied);
  EXPECT_EQ(fault_of(ENOENT), Fault::absent);
  EXPECT_EQ(fault_of(ENODEV), Fault::absent);
}

using Writes = std::vector<std::pair<std::string, std::string>>;

TEST(I2cRevival, TakesTheAdapterDownAndSetsItUpAgain) {
  auto kernel = board();
  std::optional<i2c::DownAdapter> down;
  EXPECT_TRUE(i2c::revive(kernel, "fe804000.i2c", down));
  EXPECT_EQ(kernel.written, (Writes{{"bus/platform/drivers/i2c-bcm2835/unbind", "fe804000.i2c"},
                                    {"bus/platform/drivers/i2c-bcm2835/bind", "fe804000.i2c"}}));
}

TEST(I2cRevival, LeavesABusAloneOnWhichAnExpanderHoldsRelays) {
  auto kernel = board();
  kernel.files[kParent + "/i2c-1/1-0020/name"] = "pca9534";
  kernel.files[kParent + "/i2c-1/name"] = "bcm2835 (i2c@7e804000)";
  kernel.links[kParent + "/i2c-1/1-0020/driver"] = "bus/i2c/drivers/pca953x";
  std::optional<i2c::DownAdapter> down;
  EXPECT_FALSE(i2c::revive(kernel, "1", down));
  EXPECT_TRUE(kernel.written.empty());
}

TEST(I2cRevival, SaysWhenItMayNot) {
  auto kernel = board();
  kernel.write_faults["bus/platform/drivers/i2c-bcm2835/unbind"] = Fault::denied;
  std::optional<i2c::DownAdapter> down;
  EXPECT_FALSE(i2c::revive(kernel, "1", down));
  EXPECT_FALSE(down);
  EXPECT_TRUE(kernel.written.empty()) << "what was not taken down is not set up";
  kernel.links.erase(kParent + "/driver");
  EXPECT_FALSE(i2c::revive(kernel, "1", down));
  EXPECT_FALSE(i2c::revive(kernel, "no such bus", down));
}

TEST(I2cRevival, IsForAChipWhoseBusHangsAlone) {
  auto kernel = std::make_shared<test::FakeKernel>(board());
  Context context;
  context.kernel = kernel;
  Params params;
  params.set("bus", "1");
  params.set("address", "0x44");
  i2c::Chip chip(params, context);
  const std::array<std::uint8_t, 1> command{0xFD};
  EXPECT_EQ(chip.write(command), Fault::no_answer);
  EXPECT_FALSE(chip.revive_bus()) << "a chip that is unplugged is no reason to disturb the others";
  kernel->bus_fault = Fault::hung;
  EXPECT_EQ(chip.write(command), Fault::hung);
  EXPECT_TRUE(chip.revive_bus());
}

// The bus is gone with its number then: only who took it down knows what to set up again.
TEST(I2cRevival, BindsAgainAnAdapterThatTheKernelDidNotTakeBack) {
  auto kernel = std::make_shared<test::FakeKernel>(board());
  const std::string bind = "bus/platform/drivers/i2c-bcm2835/bind";
  Context context;
  context.kernel = kernel;
  Params params;
  params.set("bus", "1");
  params.set("address", "0x44");
  i2c::Chip chip(params, context);
  const std::array<std::uint8_t, 1> command{0xFD};
  kernel->bus_fault = Fault::hung;
  kernel->write_faults[bind] = Fault::no_answer;
  EXPECT_EQ(chip.write(command), Fault::hung);
  EXPECT_FALSE(chip.revive_bus());
  EXPECT_NE(chip.trouble().find("fe804000.i2c"), std::string::npos);
  kernel->bus_fault = Fault::absent;
  std::erase_if(kernel->files, [](const auto& file) { return file.first.starts_with("class/"); });
  kernel->links.clear();
  kernel->written.clear();
  EXPECT_EQ(chip.write(command), Fault::absent);
  EXPECT_FALSE(chip.revive_bus());
  kernel->write_faults.clear();
  EXPECT_TRUE(chip.revive_bus());
  EXPECT_EQ(kernel->written, (Writes{{bind, "fe804000.i2c"}}));
  EXPECT_EQ(chip.trouble(), "");
}

// The machine's own kernel, below moved roots.
TEST(LinuxKernel, ReadsListsAndResolvesBelowItsRoot) {
  const test::TemporaryFolder sys;
  sys.write("devices/pci/hwmon/hwmon2/name", "sht4x\n");
  std::filesystem::create_directories(sys / "class/hwmon");
  std::filesystem::create_directory_symlink("../../devices/pci/hwmon/hwmon2",
                                            sys / "class/hwmon/hwmon2");
  Context context;
  context.sysfs_root = sys.path().string();
  const auto kernel = kernel_of(context);
  EXPECT_EQ(kernel->list("class/hwmon"), std::vector<std::string>{"hwmon2"});
  EXPECT_EQ(kernel->resolve("class/hwmon/hwmon2"), "devices/pci/hwmon/hwmon2");
  EXPECT_EQ(kernel->read("class/hwmon/hwmon2/name").text, "sht4x");
  EXPECT_TRUE(kernel->list("class/iio").empty());
  EXPECT_EQ(kernel->resolve("class/hwmon/hwmon3"), std::nullopt);
  EXPECT_EQ(kernel->resolve("../.."), std::nullopt) << "outside of its root";
}

}  // namespace
}  // namespace neap::drivers
