# SPDX-License-Identifier: MIT
# Writes the page's files as C++ string literals: cmake -DFOLDER=<src/io/report> -DOUT=<file.cpp> -P embed.cmake
set(text "// Made by embed.cmake from src/io/report; do not edit.\n#include \"io/report_assets.hpp\"\n\nnamespace trimtack::report_assets {\n\n")
foreach(pair "page.html|kPage" "page.css|kStyle" "page.js|kScript" "view.js|kView")
  string(REPLACE "|" ";" pair "${pair}")
  list(GET pair 0 file)
  list(GET pair 1 name)
  file(READ ${FOLDER}/${file} content)
  # Compilers need not take literals beyond 64 KB.
  string(LENGTH "${content}" size)
  if(size GREATER 60000)
    message(FATAL_ERROR "${file} is too long for one literal; split it")
  endif()
  string(APPEND text "const char* const ${name} = R\"~~(" "${content}" ")~~\";\n\n")
endforeach()
string(APPEND text "}  // namespace trimtack::report_assets\n")
file(WRITE ${OUT} "${text}")
