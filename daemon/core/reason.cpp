#include "daemon/core/reason.h"
