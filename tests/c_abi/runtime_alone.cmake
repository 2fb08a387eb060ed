# SPDX-License-Identifier: MIT
cmake_minimum_required(VERSION 3.22)
# The runtime stands alone: a C99 program linked by the C compiler with -lm only; the archive asks for a fixed short list
# of symbols; everything it exports starts with tt_.
# -DCC= -DNM= -DARCHIVE= -DINCLUDE= -DSOURCE= -DTABLE= -DCLOTH= -DSCRATCH=
file(MAKE_DIRECTORY ${SCRATCH})

function(run what)
  execute_process(COMMAND ${ARGN} RESULT_VARIABLE failed OUTPUT_VARIABLE out ERROR_VARIABLE out)
  if(failed)
    message(FATAL_ERROR "${what} failed:\n${out}")
  endif()
  set(output "${out}" PARENT_SCOPE)
endfunction()

run("compiling C99" ${CC} -std=c99 -pedantic-errors -Wall -Wextra -Werror -O1 -I${INCLUDE} ${SOURCE} ${ARCHIVE} -lm
  -o ${SCRATCH}/c_abi_test)
run("the C program" ${SCRATCH}/c_abi_test ${TABLE} ${CLOTH})

# What a host must bring: memory functions and a square root (some compilers inline all of them); __cpu_model is the C
# compiler's own, for the dispatch on x86-64.
set(allowed memcmp memcpy memset memmove sqrt __cpu_model _GLOBAL_OFFSET_TABLE_ __stack_chk_fail)
run("nm" ${NM} -u ${ARCHIVE})
string(REGEX MATCHALL "U [A-Za-z0-9_]+" undefined "${output}")
list(TRANSFORM undefined REPLACE "U " "")
run("nm" ${NM} -g --defined-only ${ARCHIVE})
string(REGEX MATCHALL " [TWBDRV] [A-Za-z0-9_]+" defined "${output}")
list(TRANSFORM defined REPLACE " [TWBDRV] " "")
foreach(symbol IN LISTS undefined)
  if(NOT symbol IN_LIST allowed AND NOT symbol IN_LIST defined)
    message(FATAL_ERROR "the runtime asks for ${symbol}; it may ask for: ${allowed}")
  endif()
endforeach()

# As a shared object: only tt_ functions are visible.
run("linking a shared object" ${CC} -shared -Wl,--whole-archive ${ARCHIVE} -Wl,--no-whole-archive -lm -o ${SCRATCH}/alone.so)
run("nm" ${NM} -D --defined-only ${SCRATCH}/alone.so)
string(REGEX MATCHALL " [A-Za-z] [A-Za-z0-9_]+" exported "${output}")
list(TRANSFORM exported REPLACE " [A-Za-z] " "")
list(LENGTH exported count)
foreach(symbol IN LISTS exported)
  if(NOT symbol MATCHES "^tt_")
    message(FATAL_ERROR "the runtime exports ${symbol}; everything must start with tt_")
  endif()
endforeach()
# Every function that the header declares is there.
file(READ ${INCLUDE}/trimtack/runtime.h header)
string(REGEX MATCHALL "\nTT_API [^(;#]+\\(" declared "${header}")
list(LENGTH declared expected)
if(NOT count EQUAL expected OR expected LESS 15)
  message(FATAL_ERROR "the header declares ${expected} functions, the library exports ${count}: ${exported}")
endif()
message(STATUS "${count} functions exported, nothing but ${undefined} needed")
