// SPDX-License-Identifier: MIT
/// The bytes of a binding table, format 1, as structs. FORMAT.md describes them; a test compares its offset table with
/// these. All numbers little-endian, every struct a multiple of 8 bytes, no padding.
#pragma once

#include <stddef.h>
#include <stdint.h>

namespace trimtack::layout {

/// First byte above 127 (not text), then a name, then CR LF, end-of-file and LF: a transfer that touches line ends or
/// strips a bit shows in the magic already.
inline constexpr unsigned char kMagic[8] = {0x89, 'T', 'T', 'B', '\r', '\n', 0x1a, '\n'};
inline constexpr uint32_t kByteOrder = 0x01020304U;
inline constexpr uint32_t kNone = 0xffffffffU;
/// More cloth vertices than this under one trim are refused: a patch is local.
inline constexpr uint32_t kMaxPatchVertices = 65536;
inline constexpr uint32_t kMaxOrder = 15;
/// Numbers above this are refused wherever they stand, so that no sum over a patch overflows.
inline constexpr double kLargestNumber = 1e18;
inline constexpr double kLargestWeight = 1e6;       ///< |c|
inline constexpr double kLargestDerivative = 1e15;  ///< |a|, |b|, per file unit
inline constexpr double kSumTolerance = 1e-9;       ///< of weight sums, relative to the sum of magnitudes
inline constexpr double kFrameTolerance = 1e-9;     ///< of rest frames, per element of R^T R - I
inline constexpr double kLargestUnit = 1e9;         ///< mm per unit, and its reciprocal

struct Header {
  unsigned char magic[8];
  uint32_t byte_order;
  uint32_t format;
  uint64_t file_bytes;
  uint64_t checksum;
  uint64_t fingerprint;
  double mm_per_unit;
  double unit_confidence;
  uint32_t up_axis;
  uint32_t cloth_vertices;
  uint32_t cloth_faces;
  uint32_t binding_count;
  uint32_t patch_count;
  uint32_t item_count;
  uint32_t text_count;
  uint32_t text_bytes;
  uint32_t unit_reason_count;
  uint32_t reserved;
  uint64_t bindings_at;
  uint64_t patches_at;
  uint64_t vertices_at;
  uint64_t weights_at;
  uint64_t details_at;
  uint64_t texts_at;
  uint64_t text_data_at;
  uint64_t reserved_tail;
};

/// What an evaluation needs of a binding.
struct Binding {
  uint32_t patch;
  uint32_t fallback;
  uint32_t trim;
  uint32_t role;
};

struct Patch {
  uint32_t first;
  uint32_t count;
  double reach;
  double origin[3];
  double frame[9];
};

struct Weights {
  double c, a, b;
};

/// The rest of a binding.
struct Detail {
  uint32_t anchor_face;
  uint32_t anchor_triangle[3];
  double anchor_weights[3];
  uint32_t layer;
  uint32_t runner_up;
  uint32_t order;
  uint32_t name;
  uint32_t first_note;
  uint32_t note_count;
  double gap;
  double radius;
  double jitter_deg_per_mm;
  double bias_deg;
  double error_deg;
};

struct Text {
  uint32_t at;
  uint32_t bytes;
};

static_assert(sizeof(Header) == 160 && alignof(Header) == 8);
static_assert(sizeof(Binding) == 16);
static_assert(sizeof(Patch) == 112);
static_assert(sizeof(Weights) == 24);
static_assert(sizeof(Detail) == 104);
static_assert(sizeof(Text) == 8);

/// Where the sections of a table with these counts start and end. No overflow: 2^32 of the largest struct fit in 64
/// bits.
struct Sections {
  uint64_t bindings, patches, vertices, weights, details, texts, text_data, end;
};

inline uint64_t round_up(uint64_t bytes) { return (bytes + 7) / 8 * 8; }

inline Sections place(uint32_t bindings, uint32_t patches, uint32_t items, uint32_t texts, uint32_t text_bytes) {
  Sections s{};
  s.bindings = sizeof(Header);
  s.patches = s.bindings + uint64_t{bindings} * sizeof(Binding);
  s.vertices = s.patches + uint64_t{patches} * sizeof(Patch);
  s.weights = s.vertices + round_up(uint64_t{items} * sizeof(uint32_t));
  s.details = s.weights + uint64_t{items} * sizeof(Weights);
  s.texts = s.details + uint64_t{bindings} * sizeof(Detail);
  s.text_data = s.texts + uint64_t{texts} * sizeof(Text);
  s.end = s.text_data + round_up(text_bytes);
  return s;
}

inline constexpr uint64_t kFnvBasis = 0xcbf29ce484222325ULL;
inline constexpr uint64_t kFnvPrime = 0x100000001b3ULL;

/// Checksum of a table: FNV-1a 64 (Fowler, Noll, Vo) taken over 64-bit words instead of bytes, the checksum's own word
/// left out. Each step is a bijection of the state, so any change confined to one word shows.
/// @pre data 8-aligned, size a multiple of 8
inline uint64_t checksum(const void* data, uint64_t size) {
  const uint64_t* words = static_cast<const uint64_t*>(data);
  uint64_t state = kFnvBasis;
  for (uint64_t i = 0; i < size / 8; ++i) {
    if (i == offsetof(Header, checksum) / 8) continue;
    state = (state ^ words[i]) * kFnvPrime;
  }
  return state;
}

/// FNV-1a 64 over the four bytes of a number, low byte first. The steps of a number's upper zeros are multiplications
/// alone, and made in one.
inline uint64_t add_to_fingerprint(uint64_t state, uint32_t number) {
  constexpr uint64_t kTwo = kFnvPrime * kFnvPrime, kThree = kTwo * kFnvPrime, kFour = kThree * kFnvPrime;
  if (number < 1U << 8) return (state ^ number) * kFour;
  state = (state ^ (number & 0xffU)) * kFnvPrime;
  if (number < 1U << 16) return (state ^ number >> 8) * kThree;
  state = (state ^ (number >> 8 & 0xffU)) * kFnvPrime;
  if (number < 1U << 24) return (state ^ number >> 16) * kTwo;
  state = (state ^ (number >> 16 & 0xffU)) * kFnvPrime;
  return (state ^ number >> 24) * kFnvPrime;
}

/// The same over a face: how many corners it has, and their vertices.
inline uint64_t add_face_to_fingerprint(uint64_t state, const uint32_t* corners, uint32_t count) {
  state = add_to_fingerprint(state, count);
  for (uint32_t i = 0; i < count; ++i) state = add_to_fingerprint(state, corners[i]);
  return state;
}

}  // namespace trimtack::layout
