/* SPDX-License-Identifier: MIT */
/* The C ABI from C99 alone. Usage: c_abi_test TABLE.ttb CLOTH.obj. Compiled with -std=c99 -pedantic-errors, linked by
 * the C compiler with the runtime's archive and -lm. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "trimtack/runtime.h"

static int failures = 0;

static void check(int good, const char* what, long number) {
  if (good) return;
  ++failures;
  printf("FAILED: %s (%ld)\n", what, number);
}

static unsigned char* read_file(const char* path, size_t* size) {
  FILE* file = fopen(path, "rb");
  unsigned char* bytes = NULL;
  long length;
  if (file == NULL) return NULL;
  fseek(file, 0, SEEK_END);
  length = ftell(file);
  rewind(file);
  bytes = malloc((size_t)length + 16);
  *size = fread(bytes, 1, (size_t)length, file);
  fclose(file);
  return bytes;
}

/* v statements of an OBJ as floats. */
static float* read_positions(const char* path, size_t* count) {
  size_t room = 64;
  float* out = malloc(room * 3 * sizeof *out);
  char line[256];
  FILE* file = fopen(path, "r");
  *count = 0;
  while (file != NULL && fgets(line, sizeof line, file) != NULL) {
    double p[3];
    if (sscanf(line, "v %lf %lf %lf", &p[0], &p[1], &p[2]) != 3) continue;
    if (*count == room) out = realloc(out, (room *= 2) * 3 * sizeof *out);
    out[3 * *count] = (float)p[0];
    out[3 * *count + 1] = (float)p[1];
    out[3 * *count + 2] = (float)p[2];
    ++*count;
  }
  if (file != NULL) fclose(file);
  return out;
}

/* FNV-1a 64 over bytes: two builds that print the same digests computed the same bits. */
static void print_digest(const char* what, const void* bytes, size_t size) {
  uint64_t state = 0xcbf29ce484222325u;
  size_t i;
  for (i = 0; i < size; ++i) state = (state ^ ((const unsigned char*)bytes)[i]) * 0x100000001b3u;
  printf("%s %08lx%08lx\n", what, (unsigned long)(state >> 32), (unsigned long)(state & 0xffffffffu));
}

/* Cloths from smooth to crumpled, in float and double, all and in part; and points moved by the poses. */
static void digest_poses(const unsigned char* bytes, size_t size, float* positions, size_t vertices) {
  tt_table table;
  tt_info info;
  tt_pose poses[64];
  tt_pose_f64 doubles[64];
  double* wide = malloc(3 * vertices * sizeof *wide);
  uint64_t random = 1;
  int round;
  size_t i;
  tt_table_open(&table, bytes, size);
  tt_table_info(&table, &info);
  for (round = 0; round < 40; ++round) {
    for (i = 0; i < 3 * vertices; ++i) {
      random = random * 6364136223846793005u + 1442695040888963407u;
      positions[i] += (float)round * 0.02f * ((float)(random >> 40) / 16777216.0f - 0.5f);
      wide[i] = positions[i];
    }
    check(tt_evaluate(&table, positions, vertices, 0, 0, info.binding_count, poses) == TT_OK, "evaluate", round);
    check(tt_evaluate_f64(&table, wide, vertices, 0, 1, info.binding_count - 1, doubles) == TT_OK, "evaluate", round);
    print_digest("poses", poses, info.binding_count * sizeof *poses);
    print_digest("poses in double", doubles, (info.binding_count - 1) * sizeof *doubles);
    check(tt_apply(&poses[0], positions, vertices, 0, positions, 0) == TT_OK, "apply", round);
    check(tt_apply_f64(&doubles[0], wide, vertices, 0, wide, 0) == TT_OK, "apply", round);
    print_digest("points", positions, 3 * vertices * sizeof *positions);
    print_digest("points in double", wide, 3 * vertices * sizeof *wide);
  }
  free(wide);
}

static void test_refusals(const unsigned char* bytes, size_t size) {
  unsigned char* copy = malloc(size + 16);
  tt_table table;
  size_t i;
  check(tt_table_open(&table, bytes, size) == TT_OK, "the whole table opens", 0);
  for (i = 0; i < size; ++i) {
    unsigned char* exact = malloc(i + 1); /* nothing readable behind it for a sanitizer */
    memcpy(exact, bytes, i);
    check(tt_table_open(&table, exact, i) == TT_TRUNCATED, "every prefix is refused", (long)i);
    free(exact);
  }
  memset(copy, 0, size + 16);
  memcpy(copy, bytes, size);
  for (i = 1; i <= 16; ++i)
    check(tt_table_open(&table, copy, size + i) == TT_TRAILING_BYTES, "trailing bytes", (long)i);
  for (i = 0; i < size; ++i) {
    copy[i] ^= 0x40;
    check(tt_table_open(&table, copy, size) != TT_OK, "every flipped byte is refused", (long)i);
    check(tt_table_info(&table, NULL) == TT_NULL_ARGUMENT, "info checks its arguments", (long)i);
    copy[i] ^= 0x40;
  }
  memmove(copy + 1, copy, size);
  check(tt_table_open(&table, copy + 1, size) == TT_MISALIGNED, "misaligned", 1);
  memcpy(copy, bytes, size);
  for (i = 8; i < 16; i += 4) {
    unsigned char first = copy[i], second = copy[i + 1];
    copy[i] = copy[i + 3], copy[i + 1] = copy[i + 2], copy[i + 2] = second, copy[i + 3] = first;
  }
  check(tt_table_open(&table, copy, size) == TT_WRONG_BYTE_ORDER, "wrong byte order", 0);
  free(copy);
}

static void test_poses(const unsigned char* bytes, size_t size, const char* cloth) {
  tt_table table;
  tt_info info;
  tt_pose poses[64], again[64];
  tt_cloth_state state;
  size_t vertices, i, k;
  float* positions = read_positions(cloth, &vertices);
  float nothing;
  check(tt_table_open(&table, bytes, size) == TT_OK, "open", 0);
  check(tt_table_info(&table, &info) == TT_OK && info.binding_count > 0 && info.binding_count <= 64, "info", 0);
  check(info.cloth_vertices == vertices, "vertex count", (long)vertices);
  check(tt_evaluate(&table, positions, vertices, 0, 0, info.binding_count, poses) == TT_OK, "evaluate", 0);
  for (i = 0; i < info.binding_count; ++i) {
    const float* t = poses[i].translation;
    tt_binding binding;
    check(tt_table_binding(&table, i, &binding) == TT_OK && binding.name_bytes > 0, "binding", (long)i);
    check(poses[i].flags == 0, "rest cloth raises no flag", (long)i);
    check(poses[i].rotation[3] > 0.999999f, "rest cloth does not turn", (long)i);
    check(t[0] * t[0] + t[1] * t[1] + t[2] * t[2] < 1e-4f, "rest cloth does not move", (long)i);
    check(tt_evaluate(&table, positions, vertices, 12, i, 1, &again[i]) == TT_OK, "evaluate one", (long)i);
  }
  check(memcmp(poses, again, info.binding_count * sizeof *poses) == 0, "one by one is the same bits", 0);
  check(tt_check_cloth(&table, positions, vertices, 0, &state) == TT_OK && state.unusable_vertices == 0, "state", 0);
  digest_poses(bytes, size, positions, vertices);
  memset(&nothing, 0xff, sizeof nothing); /* a NaN */
  for (i = 0; i < 3 * vertices; ++i) positions[i] = nothing;
  check(tt_evaluate(&table, positions, vertices, 0, 0, info.binding_count, poses) == TT_OK, "evaluate NaN", 0);
  for (i = 0; i < info.binding_count; ++i) {
    check((poses[i].flags & TT_POSE_LOST) != 0, "NaN is flagged", (long)i);
    for (k = 0; k < 4; ++k) check(poses[i].rotation[k] == poses[i].rotation[k], "no NaN comes out", (long)i);
    for (k = 0; k < 3; ++k) check(poses[i].translation[k] == poses[i].translation[k], "no NaN comes out", (long)i);
  }
  check(tt_check_cloth(&table, positions, vertices, 0, &state) == TT_OK && state.unusable_vertices == vertices, "state",
        1);
  free(positions);
}

int main(int argc, char** argv) {
  size_t size;
  unsigned char* bytes;
  if (argc != 3 || (bytes = read_file(argv[1], &size)) == NULL) {
    printf("usage: c_abi_test TABLE.ttb CLOTH.obj\n");
    return 2;
  }
  check(sizeof(tt_pose) == 32 && sizeof(tt_pose_f64) == 64, "pose sizes", (long)sizeof(tt_pose));
  check(tt_runtime_version() == 10000u * TT_VERSION_MAJOR + 100u * TT_VERSION_MINOR + TT_VERSION_PATCH, "version", 0);
  test_refusals(bytes, size);
  test_poses(bytes, size, argv[2]);
  free(bytes);
  printf("%d failures\n", failures);
  return failures == 0 ? 0 : 1;
}
