/* SPDX-License-Identifier: MIT */
/* The part of the C library that the runtime asks for, for a target that has none. */
#pragma once
#include <stddef.h>
#ifdef __cplusplus
extern "C" {
#endif
void* memcpy(void* to, const void* from, size_t size);
void* memset(void* to, int value, size_t size);
int memcmp(const void* p, const void* q, size_t size);
#ifdef __cplusplus
}
#endif
