/* SPDX-License-Identifier: MIT */
/* Follow a deformed cloth with the C runtime: one pose per trim.
 *
 *   follow_in_c bindings.ttb frame.obj
 *
 * Prints trim, name, translation, quaternion and flags as CSV. C99; needs runtime.h, the runtime's archive and -lm.
 * The table's bytes are used where they lie: nothing is copied, nothing is allocated by the runtime. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "trimtack/runtime.h"

static int give_up(const char* subject, const char* what) {
  fprintf(stderr, "%s: %s\n", subject, what);
  return 1;
}

/* The whole file, at an address from malloc: aligned for anything, which tt_table_open asks for. */
static void* read_file(const char* path, size_t* size) {
  FILE* file = fopen(path, "rb");
  long length;
  void* bytes;
  if (file == NULL) return NULL;
  fseek(file, 0, SEEK_END);
  length = ftell(file);
  rewind(file);
  bytes = length >= 0 ? malloc((size_t)length + 1) : NULL;
  *size = bytes != NULL ? fread(bytes, 1, (size_t)length, file) : 0;
  fclose(file);
  return bytes;
}

/* The v statements of an OBJ. A host has its vertices in memory already. */
static double* read_vertices(const char* path, size_t* count) {
  size_t room = 1024;
  double* points = malloc(room * 3 * sizeof *points);
  char line[512];
  FILE* file = fopen(path, "r");
  *count = 0;
  while (file != NULL && points != NULL && fgets(line, sizeof line, file) != NULL) {
    double* p = points + 3 * *count;
    if (sscanf(line, "v %lf %lf %lf", p, p + 1, p + 2) != 3) continue;
    if (++*count == room) points = realloc(points, (room *= 2) * 3 * sizeof *points);
  }
  if (file != NULL) fclose(file);
  return points;
}

int main(int argc, char** argv) {
  size_t size = 0, vertices = 0, i;
  void* bytes;
  double* cloth;
  tt_pose_f64* poses;
  tt_table table;
  tt_info info;
  tt_status status;

  if (argc != 3) return give_up("usage", "follow_in_c bindings.ttb frame.obj");
  bytes = read_file(argv[1], &size);
  if (bytes == NULL) return give_up(argv[1], "cannot be read");
  status = tt_table_open(&table, bytes, size); /* checks everything, once */
  if (status != TT_OK) return give_up(argv[1], tt_status_text(status));
  tt_table_info(&table, &info);

  cloth = read_vertices(argv[2], &vertices);
  poses = malloc((info.binding_count + 1) * sizeof *poses);
  if (cloth == NULL || poses == NULL) return give_up(argv[2], "out of memory");
  /* Any number of threads may evaluate ranges of one table at the same time. */
  status = tt_evaluate_f64(&table, cloth, vertices, 3 * sizeof *cloth, 0, info.binding_count, poses);
  if (status != TT_OK) return give_up(argv[2], tt_status_text(status));

  printf("trim,name,tx,ty,tz,qx,qy,qz,qw,flags\n");
  for (i = 0; i < info.binding_count; ++i) {
    const tt_pose_f64* pose = &poses[i];
    tt_binding binding;
    tt_table_binding(&table, i, &binding);
    printf("%u,%.*s", (unsigned)binding.trim, (int)binding.name_bytes, binding.name);
    printf(",%.12g,%.12g,%.12g", pose->translation[0], pose->translation[1], pose->translation[2]);
    printf(",%.12g,%.12g,%.12g,%.12g", pose->rotation[0], pose->rotation[1], pose->rotation[2], pose->rotation[3]);
    printf(",%u\n", (unsigned)pose->flags);
  }
  free(poses);
  free(cloth);
  free(bytes);
  return 0;
}
