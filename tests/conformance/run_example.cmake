# SPDX-License-Identifier: MIT
cmake_minimum_required(VERSION 3.22)
# Runs an example host on every conformance frame and compares what it prints.
# -DHOST="program;arguments" -DCHECK=check_example -DVECTORS=folder
set(count 0)
foreach(frame rest rigid shear bend noise degenerate stretched)
  execute_process(COMMAND ${HOST} ${VECTORS}/bindings.ttb ${VECTORS}/frames/${frame}.obj
    COMMAND ${CHECK} ${VECTORS}/expected.json ${frame} RESULTS_VARIABLE results OUTPUT_VARIABLE out ERROR_VARIABLE err)
  if(NOT results STREQUAL "0;0")
    message(FATAL_ERROR "${frame}: ${results}\n${out}${err}")
  endif()
  math(EXPR count "${count} + 1")
endforeach()
# A broken table and a foreign cloth are refused with a reason.
execute_process(COMMAND ${HOST} ${VECTORS}/cloth.obj ${VECTORS}/cloth.obj RESULT_VARIABLE result ERROR_VARIABLE err OUTPUT_QUIET)
if(result EQUAL 0 OR err STREQUAL "")
  message(FATAL_ERROR "an OBJ was taken for a table")
endif()
execute_process(COMMAND ${HOST} ${VECTORS}/bindings.ttb ${VECTORS}/expected.json RESULT_VARIABLE result ERROR_VARIABLE err OUTPUT_QUIET)
if(result EQUAL 0 OR NOT err MATCHES "vertices")
  message(FATAL_ERROR "a cloth without vertices was not refused: ${err}")
endif()
message(STATUS "${count} frames agree")
