/* SPDX-License-Identifier: MIT */
/* trimtack runtime: a validated view of a binding table, and its evaluation. C99, links with the C library and libm
 * alone.
 *
 * No allocation, no exceptions, no global state: any number of threads may evaluate one table at the same time, and a
 * result depends on the table and the cloth alone. Poses of a range are the same bits as those of a whole call.
 *
 * Conventions: right-handed coordinates; 0-based indices; a pose maps rest positions of a trim (as they stood in the
 * combined export) to posed positions: x -> rotation x + translation. The cloth's vertices are those of cloth.obj, in
 * its order. The table's bytes are described in src/runtime/FORMAT.md; they must stay where they are while the table is
 * used.
 */
#ifndef TRIMTACK_RUNTIME_H
#define TRIMTACK_RUNTIME_H

#include <stddef.h>
#include <stdint.h>

#include "trimtack/version.h"

#if defined(TRIMTACK_RUNTIME_IMPORT) && defined(_WIN32)
#define TT_API __declspec(dllimport)
#elif defined(__GNUC__)
#define TT_API __attribute__((visibility("default")))
#else
#define TT_API
#endif

#ifdef __cplusplus
extern "C" {
#endif

/* Numbers are only appended and never reused. */
typedef enum tt_status {
  TT_OK = 0,
  TT_NULL_ARGUMENT = 1,       /* a pointer that must not be null is null */
  TT_NOT_OPEN = 2,            /* the tt_table was not opened, or opening it failed */
  TT_MISALIGNED = 3,          /* the table's bytes must start at a multiple of 8 */
  TT_TRUNCATED = 4,           /* fewer bytes than the table says it has */
  TT_NOT_A_TABLE = 5,         /* the magic is not that of a binding table */
  TT_WRONG_BYTE_ORDER = 6,    /* written or read with the bytes of each number swapped */
  TT_UNKNOWN_FORMAT = 7,      /* a table format that this runtime does not know */
  TT_TRAILING_BYTES = 8,      /* more bytes than the table says it has */
  TT_BAD_LAYOUT = 9,          /* counts and offsets contradict each other */
  TT_BAD_CHECKSUM = 10,       /* the bytes are not those that were written */
  TT_BAD_INDEX = 11,          /* an index is out of range */
  TT_BAD_NUMBER = 12,         /* a number is not finite or out of range */
  TT_BAD_WEIGHTS = 13,        /* weights of a patch do not sum to 1, 0, 0 */
  TT_BAD_FRAME = 14,          /* a rest frame is not a proper rotation */
  TT_BAD_TEXT = 15,           /* texts do not follow each other or leave the file */
  TT_BAD_OPTIONS = 16,        /* unknown up axis, or a unit that is not a positive number */
  TT_WRONG_VERTEX_COUNT = 17, /* the cloth has another number of vertices than the table was made for */
  TT_BAD_STRIDE = 18,         /* a stride smaller than one point, or beyond the address space */
  TT_BAD_RANGE = 19           /* first + count exceeds the number of bindings, or an index is out of range */
} tt_status;

/* Up axis of a file or a host. */
enum { TT_UP_OF_TABLE = 0, TT_UP_Y = 1, TT_UP_Z = 2 };

/* Index that stands for "none". */
#define TT_NONE 0xffffffffu

/* Flags of a pose; 0: the chosen patch gave it and nothing was unusual. A pose is finite and a proper rotation whatever
 * its flags say. */
enum {
  TT_POSE_FALLBACK = 1,   /* the chosen patch had no believable answer; the stored fallback patch gave this one */
  TT_POSE_STRETCHED = 2,  /* the cloth under the trim is stretched or crushed beyond what cloth does (see FORMAT.md) */
  TT_POSE_LOST = 4,       /* no patch had an answer: rotation borrowed from a neighbour, or none; a host that plays a
                             sequence may prefer the last good pose */
  TT_POSE_NOT_FINITE = 8, /* a position under the trim is NaN or infinite, or a sum over them beyond 1e18 */
  TT_POSE_INVERTED = 16   /* the chosen triangle was turned over against its surroundings; the fallback was used */
};

/* Opened table. Caller-allocated; copy it freely; contents are private. */
typedef struct tt_table {
  uint64_t private_[24];
} tt_table;

/* What the host's positions and poses are in. Zero-initialised: as the table. */
typedef struct tt_open_options {
  double mm_per_unit; /* millimetres in one host unit (1000 for metres); 0: the table's own unit */
  uint32_t up_axis;   /* TT_UP_Y, TT_UP_Z or TT_UP_OF_TABLE */
  uint32_t reserved;  /* must be 0 */
} tt_open_options;

typedef struct tt_info {
  uint32_t format;  /* table format number */
  uint32_t up_axis; /* of the file, TT_UP_Y or TT_UP_Z */
  uint32_t binding_count;
  uint32_t patch_count;
  uint32_t cloth_vertices;
  uint32_t cloth_faces;
  uint64_t fingerprint; /* of the cloth's faces, see tt_cloth_fingerprint */
  double mm_per_unit;   /* of the file */
  uint64_t reserved[3];
} tt_info;

/* One binding. `origin` is in the host's unit and axes, everything else as in the file. */
typedef struct tt_binding {
  uint32_t trim;        /* trim id in parts.json */
  uint32_t role;        /* 1 trim, 2 stitching */
  uint32_t anchor_face; /* face of cloth.obj, or TT_NONE */
  uint32_t anchor_triangle[3];
  double anchor_weights[3];
  double origin[3]; /* the anchor on the rest cloth; 0 0 0 when the trim is unbound */
  double gap;       /* signed distance of the trim to its cloth at rest, file units */
  uint32_t layer;   /* component that carries the trim, or TT_NONE */
  uint32_t order;   /* 0 triangle, 1 affine, 2 quadratic */
  const char* name; /* UTF-8, not zero-terminated, inside the table's bytes */
  size_t name_bytes;
} tt_binding;

/* Rigid motion, rest -> posed. 32 bytes. */
typedef struct tt_pose {
  float rotation[4]; /* unit quaternion x y z w, w >= 0 */
  float translation[3];
  uint32_t flags; /* TT_POSE_... */
} tt_pose;

/* The same in double. 64 bytes. */
typedef struct tt_pose_f64 {
  double rotation[4];
  double translation[3];
  uint32_t flags;
  uint32_t reserved; /* 0 */
} tt_pose_f64;

enum { TT_MIRRORED_NO = 0, TT_MIRRORED_YES = 1, TT_MIRRORED_UNKNOWN = 2 };

/* The cloth of a frame as a whole. */
typedef struct tt_cloth_state {
  uint32_t mirrored;          /* TT_MIRRORED_...: is the frame a mirror image of the rest cloth? UNKNOWN when the trims
                                 sit on cloth that faces one way, where a mirror image looks like a half turn */
  uint32_t unusable_vertices; /* positions that are NaN, infinite or beyond 1e18 */
  double scale;               /* typical stretch of the cloth under the trims; far from 1: another unit than at rest */
  uint64_t reserved[2];
} tt_cloth_state;

/* TT_VERSION_MAJOR * 10000 + MINOR * 100 + PATCH of the library that is linked. */
TT_API uint32_t tt_runtime_version(void);
/* One English sentence without a full stop; never null. */
TT_API const char* tt_status_text(int status);

/* Checks everything once and makes a view; O(size). On failure `out` holds a table that every call refuses.
 * `data` must start at a multiple of 8 and outlive the view. */
TT_API tt_status tt_table_open(tt_table* out, const void* data, size_t size);
/* The same for a host with its own unit and up axis; options may be null. */
TT_API tt_status tt_table_open_with(tt_table* out, const void* data, size_t size, const tt_open_options* options);
/* After a failed open: offset in the bytes of what was refused (0 when it concerns the whole). */
TT_API uint64_t tt_table_fault_offset(const tt_table* table);
TT_API tt_status tt_table_info(const tt_table* table, tt_info* out);
TT_API tt_status tt_table_binding(const tt_table* table, size_t index, tt_binding* out);

/* Fingerprint of a polygon mesh, independent of positions: face f has corners [offsets[f], offsets[f + 1]).
 * offsets may be null: then all faces are triangles. Compare with tt_info.fingerprint before you evaluate. */
TT_API tt_status tt_cloth_fingerprint(size_t vertex_count, const uint32_t* offsets, size_t face_count,
                                      const uint32_t* corners, uint64_t* out);

/* Poses of bindings [first, first + count) on a deformed cloth, in table order.
 * positions: vertex_count points x y z, stride_bytes apart (0: packed; any stride, any alignment).
 * out: count poses. On any status but TT_OK nothing is written. Never a NaN, never a reflection, whatever the
 * positions. */
TT_API tt_status tt_evaluate(const tt_table* table, const float* positions, size_t vertex_count, size_t stride_bytes,
                             size_t first, size_t count, tt_pose* out);
TT_API tt_status tt_evaluate_f64(const tt_table* table, const double* positions, size_t vertex_count,
                                 size_t stride_bytes, size_t first, size_t count, tt_pose_f64* out);

/* Posed points: out = rotation rest + translation. Strides in bytes, 0: packed. out may be rest itself with the same
 * stride; other overlaps are not allowed. Computed in double; a quaternion of any length but 0 acts as a rotation. */
TT_API tt_status tt_apply(const tt_pose* pose, const float* rest, size_t point_count, size_t in_stride, float* out,
                          size_t out_stride);
TT_API tt_status tt_apply_f64(const tt_pose_f64* pose, const double* rest, size_t point_count, size_t in_stride,
                              double* out, size_t out_stride);

/* The pose as a row-major 3x4 matrix. */
TT_API tt_status tt_pose_matrix(const tt_pose* pose, float out[12]);
TT_API tt_status tt_pose_matrix_f64(const tt_pose_f64* pose, double out[12]);

/* Looks at a frame as a whole, once a frame: all positions, and up to 512 bindings spread over the table. */
TT_API tt_status tt_check_cloth(const tt_table* table, const float* positions, size_t vertex_count, size_t stride_bytes,
                                tt_cloth_state* out);
TT_API tt_status tt_check_cloth_f64(const tt_table* table, const double* positions, size_t vertex_count,
                                    size_t stride_bytes, tt_cloth_state* out);

#ifdef __cplusplus
}
#endif

#endif
