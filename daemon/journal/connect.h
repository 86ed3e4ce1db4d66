// Opening a journal to read it.
#pragma once

#include <string>

#include "daemon/journal/sqlite.h"

namespace neap::journal {

// A read-only connection, or none and why. When the write-ahead log's files are missing and this
// user cannot create them, nobody is writing: the file is then read as it stands.
Database connect_read_only(const std::string& path, std::string& error);

}  // namespace neap::journal
