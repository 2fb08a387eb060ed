/* SPDX-License-Identifier: MIT */
/* A fixture that runtime_alone must reject: it asks for a symbol that hosts do not bring, and exports another. */
#include <stdio.h>

int foreign_name(void);
int foreign_name(void) { return puts("not part of the runtime"); }
