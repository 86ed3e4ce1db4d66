// One setting of a settings text replaced, for a run that differs in just that.
#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace neap::client {

// `block` is a top-level key whose members stand on lines of their own, `key` one of them. The line
// is replaced, or put first in the block when it is not there. None when there is no such block.
std::optional<std::string> with_setting(std::string_view text, std::string_view block,
                                        std::string_view key, std::string_view value);

}  // namespace neap::client
