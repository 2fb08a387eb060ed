// SPDX-License-Identifier: MIT
// What the WebAssembly module needs beside the runtime: three memory functions, and room for the page's arrays. The
// page allocates once, at the start, so nothing is ever given back.
#include <stddef.h>
#include <stdint.h>

extern "C" {

void* memcpy(void* to, const void* from, size_t size) {
  auto* out = static_cast<unsigned char*>(to);
  const auto* in = static_cast<const unsigned char*>(from);
  for (size_t i = 0; i < size; ++i) out[i] = in[i];
  return to;
}

void* memset(void* to, int value, size_t size) {
  auto* out = static_cast<unsigned char*>(to);
  for (size_t i = 0; i < size; ++i) out[i] = static_cast<unsigned char>(value);
  return to;
}

int memcmp(const void* p, const void* q, size_t size) {
  const auto* x = static_cast<const unsigned char*>(p);
  const auto* y = static_cast<const unsigned char*>(q);
  for (size_t i = 0; i < size; ++i)
    if (x[i] != y[i]) return x[i] < y[i] ? -1 : 1;
  return 0;
}

extern unsigned char __heap_base;

/// Bytes at a multiple of 16, or null when the memory cannot grow that far.
__attribute__((visibility("default"))) void* host_alloc(size_t size) {
  static uintptr_t next = reinterpret_cast<uintptr_t>(&__heap_base);
  constexpr size_t kPage = 65536;
  const uintptr_t begin = (next + 15) / 16 * 16;
  const uintptr_t end = begin + size;
  const uintptr_t have = __builtin_wasm_memory_size(0) * kPage;
  if (end < begin) return nullptr;
  if (end > have && __builtin_wasm_memory_grow(0, (end - have + kPage - 1) / kPage) == static_cast<size_t>(-1))
    return nullptr;
  next = end;
  return reinterpret_cast<void*>(begin);
}

}  // extern "C"
