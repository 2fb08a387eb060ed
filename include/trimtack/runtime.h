/* SPDX-License-Identifier: MIT */
/* trimtack runtime: a validated view of a binding table, and its evaluation. C99. No allocation, no global state. */
#ifndef TRIMTACK_RUNTIME_H
#define TRIMTACK_RUNTIME_H

#include <stddef.h>
#include <stdint.h>

#include "trimtack/version.h"

#endif
