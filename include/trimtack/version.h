/* SPDX-License-Identifier: MIT */
/* The only place where the three numbers stand. */
#ifndef TRIMTACK_VERSION_H
#define TRIMTACK_VERSION_H

#define TT_VERSION_MAJOR 0
#define TT_VERSION_MINOR 1
#define TT_VERSION_PATCH 0
#define TT_VERSION_TEXT "0.1.0"

/* soname of the runtime; raised when a released function or struct changes */
#define TT_ABI_NUMBER 1

/* Table formats. Numbers are assigned once and never reused; every runtime reads all of them. */
#define TT_TABLE_FORMAT_1 1u
#define TT_TABLE_FORMAT_LATEST TT_TABLE_FORMAT_1

#endif
