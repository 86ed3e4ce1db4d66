#pragma once

#include "daemon/manual/mdoc.h"

namespace neap::manual {

// The other pages of neap.
void put_see_also(Page& page, std::string_view but);

}  // namespace neap::manual
