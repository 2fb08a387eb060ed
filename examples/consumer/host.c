/* SPDX-License-Identifier: MIT */
/* The smallest host: opens a binding table and says how many bindings it holds. */
#include <stdio.h>
#include <stdlib.h>

#include "trimtack/runtime.h"

int main(int argc, char** argv) {
  if (argc != 2) {
    fprintf(stderr, "usage: host bindings.ttb\n");
    return 2;
  }
  FILE* file = fopen(argv[1], "rb");
  if (file == NULL) {
    fprintf(stderr, "host: cannot open %s\n", argv[1]);
    return 3;
  }
  fseek(file, 0, SEEK_END);
  const long size = ftell(file);
  rewind(file);
  void* bytes = malloc(size > 0 ? (size_t)size : 1); /* malloc aligns to 8, as the table needs */
  const size_t got = bytes != NULL && size > 0 ? fread(bytes, 1, (size_t)size, file) : 0;
  fclose(file);
  tt_table table;
  const tt_status status = tt_table_open(&table, bytes, got);
  if (status != TT_OK) {
    fprintf(stderr, "host: %s: %s\n", argv[1], tt_status_text(status));
    free(bytes);
    return 3;
  }
  tt_info info;
  tt_table_info(&table, &info);
  printf("%lu bindings on a cloth of %lu vertices\n", (unsigned long)info.binding_count,
         (unsigned long)info.cloth_vertices);
  free(bytes);
  return 0;
}
