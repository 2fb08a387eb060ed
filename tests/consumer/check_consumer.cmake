# SPDX-License-Identifier: MIT
# Installs into a fresh prefix, builds examples/consumer against it, runs both programs, and looks at every header that
# their compilation read: none may be a third party's.
cmake_minimum_required(VERSION 3.22)
function(run)
  execute_process(COMMAND ${ARGV} RESULT_VARIABLE code OUTPUT_VARIABLE output ERROR_VARIABLE output)
  if(NOT code EQUAL 0)
    list(JOIN ARGV " " command)
    message(FATAL_ERROR "${command}: exit code ${code}\n${output}")
  endif()
  set(output "${output}" PARENT_SCOPE)
endfunction()

file(REMOVE_RECURSE ${WORK})
file(MAKE_DIRECTORY ${WORK})
run(${CMAKE_COMMAND} --install ${BUILD} --prefix ${WORK}/prefix)
run(${CMAKE_COMMAND} -S ${SOURCE}/examples/consumer -B ${WORK}/build -G ${GENERATOR} -DCMAKE_PREFIX_PATH=${WORK}/prefix
    -DCMAKE_CXX_COMPILER=${CXX} -DCMAKE_C_COMPILER=${CC} -DCMAKE_BUILD_TYPE=Release
    -DCMAKE_DISABLE_FIND_PACKAGE_Eigen3=ON -DCMAKE_DISABLE_FIND_PACKAGE_nanoflann=ON
    -DCMAKE_DISABLE_FIND_PACKAGE_nlohmann_json=ON "-DCMAKE_CXX_FLAGS=-H" "-DCMAKE_C_FLAGS=-H")
run(${CMAKE_COMMAND} --build ${WORK}/build)
string(REGEX MATCHALL "\n\\.+ [^\n]+" headers "${output}")
list(LENGTH headers count)
if(count LESS 50 OR NOT output MATCHES "${WORK}/prefix/include/trimtack/pipeline.hpp")
  message(FATAL_ERROR "only ${count} headers were listed: the check is blind\n${output}")
endif()
foreach(header IN LISTS headers)
  if(header MATCHES "eigen|Eigen|nanoflann|nlohmann|CLI/|tbb/|catch2|${SOURCE}/(include|src)/")
    message(FATAL_ERROR "the consumer's compilation needed ${header}")
  endif()
endforeach()

run(${WORK}/prefix/bin/trimtack demo ${WORK}/demo --frames 0 --quiet)
run(${WORK}/build/tool ${WORK}/demo/coat.obj)
if(NOT output MATCHES "trimtack 0[.0-9]+: ([1-9][0-9]+) bindings")
  message(FATAL_ERROR "tool said: ${output}")
endif()
set(bindings ${CMAKE_MATCH_1})
run(${WORK}/build/host ${WORK}/demo/bound/bindings.ttb)
if(NOT output MATCHES "^${bindings} bindings on a cloth of [1-9][0-9]+ vertices")
  message(FATAL_ERROR "host said: ${output}, tool counted ${bindings}")
endif()
file(REMOVE_RECURSE ${WORK})
message(STATUS "consumer built against ${count} headers, none of a third party; ${bindings} bindings seen by both")
