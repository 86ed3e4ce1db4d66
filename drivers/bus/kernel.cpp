#include "drivers/bus/kernel.h"

#include <algorithm>
#include <filesystem>
#include <system_error>

#include "drivers/bus/i2c.h"

namespace neap::drivers {
namespace {

namespace fs = std::filesystem;

class LinuxKernel final : public Kernel {
 public:
  LinuxKernel(fs::path sysfs_root, fs::path dev_root)
      : sysfs_(std::move(sysfs_root)), dev_(std::move(dev_root)) {}

  sysfs::Attribute read(const std::string& path) override {
    return sysfs::read_attribute(sysfs_ / path);
  }

  Fault write(const std::string& path, std::string_view text) override {
    return sysfs::write_attribute(sysfs_ / path, text);
  }

  std::vector<std::string> list(const std::string& folder) override {
    std::vector<std::string> names;
    std::error_code error;
    for (fs::directory_iterator entry{sysfs_ / folder, error}, end; !error && entry != end;
         entry.increment(error))
      names.push_back(entry->path().filename().string());
    std::sort(names.begin(), names.end());
    return names;
  }

  std::optional<std::string> resolve(const std::string& path) override {
    std::error_code error;
    const fs::path root = fs::canonical(sysfs_, error);
    const fs::path real = error ? fs::path{} : fs::canonical(sysfs_ / path, error);
    if (error) return std::nullopt;
    const std::string below = real.lexically_relative(root).string();
    if (below.empty() || below.starts_with("..")) return std::nullopt;
    return below;
  }

  Fault transfer(const std::string& node, std::uint8_t address, std::span<const std::uint8_t> out,
                 std::span<std::uint8_t> in) override {
    return i2c::transfer(dev_ / node, address, out, in);
  }

 private:
  fs::path sysfs_;
  fs::path dev_;
};

}  // namespace

std::shared_ptr<Kernel> kernel_of(const Context& context) {
  if (context.kernel) return context.kernel;
  return std::make_shared<LinuxKernel>(context.sysfs_root, context.dev_root);
}

bool has_component(std::string_view path, std::string_view part) {
  const std::string framed = "/" + std::string{path} + "/";
  return framed.find("/" + std::string{part} + "/") != std::string::npos;
}

Found find_device(Kernel& kernel, const std::string& folder,
                  std::span<const std::string_view> names, const std::string& device) {
  Found only{{}, Fault::absent};
  for (const std::string& entry : kernel.list(folder)) {
    const std::string path = folder + "/" + entry;
    const sysfs::Attribute name = kernel.read(path + "/name");
    if (!name.text || std::find(names.begin(), names.end(), *name.text) == names.end()) continue;
    if (!device.empty()) {
      const auto real = kernel.resolve(path);
      if (!real || !has_component(*real, device)) continue;
    }
    if (!only.path.empty()) return {{}, Fault::ambiguous};
    only = {path, Fault::none};
  }
  return only;
}

}  // namespace neap::drivers
