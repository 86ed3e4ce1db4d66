// Included before all else in every file of the extension: SQLite's functions are those of the
// program that loads it, and not of a second library beside it.
#pragma once

#include <sqlite3ext.h>

extern "C" {
SQLITE_EXTENSION_INIT3
}
