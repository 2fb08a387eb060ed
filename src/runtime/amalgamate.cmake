# SPDX-License-Identifier: MIT
cmake_minimum_required(VERSION 3.22)
# Joins the runtime's sources into OUT/trimtack_runtime.cpp and copies its header: a host vendors one folder, compiles one
# file as C++20, and includes "trimtack/runtime.h". -DROOT= source tree, -DOUT= folder
set(parts frame.hpp all_usable.hpp lanes.hpp layout.hpp view.hpp wide_apply.hpp wide_sums.hpp patch_pose.hpp four_patches.hpp cloth_state.hpp
    table_view.cpp evaluate.cpp check_cloth.cpp)
set(all "// SPDX-License-Identifier: MIT\n// trimtack runtime in one file. Generated; change the sources instead.\n#include \"trimtack/runtime.h\"\n")
foreach(part IN LISTS parts)
  file(READ ${ROOT}/src/runtime/${part} text)
  string(REGEX REPLACE "#include \"(runtime|trimtack)/[^\n]*\n" "" text "${text}")
  string(REPLACE "#pragma once\n" "" text "${text}")
  string(APPEND all "\n// ---- ${part}\n${text}")
endforeach()
if(all MATCHES "#include \"runtime/")
  message(FATAL_ERROR "an include of the runtime's own files is left")
endif()
file(WRITE ${OUT}/trimtack_runtime.cpp "${all}")
file(MAKE_DIRECTORY ${OUT}/trimtack)
configure_file(${ROOT}/include/trimtack/runtime.h ${OUT}/trimtack/runtime.h COPYONLY)
configure_file(${ROOT}/include/trimtack/version.h ${OUT}/trimtack/version.h COPYONLY)
