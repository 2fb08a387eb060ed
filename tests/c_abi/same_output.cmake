# SPDX-License-Identifier: MIT
cmake_minimum_required(VERSION 3.22)
# Two programs must print the same, and not nothing. -DONE= -DOTHER= -DARGUMENTS=
foreach(program ONE OTHER)
  execute_process(COMMAND ${${program}} ${ARGUMENTS} RESULT_VARIABLE failed OUTPUT_VARIABLE out_${program})
  if(failed)
    message(FATAL_ERROR "${${program}} failed:\n${out_${program}}")
  endif()
endforeach()
string(LENGTH "${out_ONE}" length)
if(length LESS 1000 OR NOT out_ONE STREQUAL out_OTHER)
  message(FATAL_ERROR "the outputs differ:\n${out_ONE}\n${out_OTHER}")
endif()
