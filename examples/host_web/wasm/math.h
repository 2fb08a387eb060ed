/* SPDX-License-Identifier: MIT */
/* The part of the C library that the runtime asks for, for a target that has none. */
#pragma once
#ifdef __cplusplus
extern "C" {
#endif
static inline double sqrt(double x) { return __builtin_sqrt(x); }
static inline float sqrtf(float x) { return __builtin_sqrtf(x); }
long double sqrtl(long double x); /* named by a template that nothing instantiates here */
#ifdef __cplusplus
}
#endif
