#include <grp.h>
#include <pwd.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <optional>
#include <vector>

#include "daemon/shell/control.h"

namespace neap::shell {
namespace {

std::optional<gid_t> group_number(const char* name) {
  std::array<char, 16384> space{};
  group entry{};
  group* found = nullptr;
  if (::getgrnam_r(name, &entry, space.data(), space.size(), &found) != 0 || found == nullptr)
    return std::nullopt;
  return found->gr_gid;
}

std::vector<gid_t> groups_of(uid_t uid, gid_t gid) {
  std::array<char, 16384> space{};
  passwd entry{};
  passwd* found = nullptr;
  if (::getpwuid_r(uid, &entry, space.data(), space.size(), &found) != 0 || found == nullptr)
    return {gid};
  std::vector<gid_t> groups(64);
  int count = static_cast<int>(groups.size());
  if (::getgrouplist(found->pw_name, gid, groups.data(), &count) < 0) return {gid};
  groups.resize(static_cast<std::size_t>(count));
  return groups;
}

struct RoleGroup {
  const char* name;
  Role role;
};
constexpr std::array kRoleGroups{RoleGroup{"neap-admin", Role::administer},
                                 RoleGroup{"neap", Role::operate},
                                 RoleGroup{"neap-view", Role::view}};

}  // namespace

Role role_of(std::uint32_t uid, std::uint32_t gid) {
  if (uid == 0) return Role::administer;
  const std::vector<gid_t> groups = groups_of(uid, gid);
  bool any_group_exists = false;
  for (const RoleGroup& row : kRoleGroups) {
    const std::optional<gid_t> number = group_number(row.name);
    any_group_exists = any_group_exists || number.has_value();
    if (number && std::find(groups.begin(), groups.end(), *number) != groups.end()) return row.role;
  }
  return !any_group_exists && uid == ::geteuid() ? Role::administer : Role::none;
}

}  // namespace neap::shell
